"""The programs that run on the graphics side.  Places are in earth axes (north, east, down) but for the plane's own, m."""

# Sky and ground, each on its side of the horizon, by the ray of each pixel: straight at any distance.  Lines in the sky every
# few degrees of elevation, on the ground every 10 m, stronger every 100 m; they fade before they flicker.  Together they
# are half of a picture's time by software rendering.
BEYOND_VERTEX = """
layout(location = 0) in vec2 place;        // of the picture, -1 to 1
uniform vec3 right, up, ahead;
out vec3 ray;
void main() {
    ray = ahead + place.x * right + place.y * up;
    gl_Position = vec4(place, 1.0, 1.0);
}
"""
LINES = """
vec2 lines(vec2 x, vec2 w, float width) {
    vec2 d = abs(fract(x - 0.5) - 0.5) / w;
    return clamp(0.5 * width + 1.0 - d, 0.0, 1.0) * clamp(1.5 - 4.0 * w, 0.0, 1.0);
}
"""
SKY_VERTEX = GROUND_VERTEX = BEYOND_VERTEX
SKY_FRAGMENT = (
    LINES
    + """
in vec3 ray;
out vec4 colour;
uniform vec3 high, low;
uniform float step_up;                     // degrees between lines of elevation
void main() {
    float s = clamp(-ray.z * inversesqrt(dot(ray, ray)), 0.0, 1.0);
    // arc sine within 7e-5 rad (Abramowitz and Stegun 4.4.45)
    float angle = 1.5707963 - sqrt(1.0 - s) * (1.5707288 + s * (-0.2121144 + s * (0.0742610 - s * 0.0187293)));
    float mark = angle * (57.29578 / step_up);
    float line = lines(vec2(mark), vec2(fwidth(mark)), 1.2).x;
    colour = vec4(mix(mix(low, high, s), high * 0.72, 0.5 * line), 1.0);
}
"""
)
GROUND_FRAGMENT = (
    LINES
    + """
in vec3 ray;
out vec4 colour;
uniform vec3 eye, near, far, grid;
void main() {
    float reach = -eye.z / max(ray.z, 1e-6);
    vec2 place = (eye.xy + ray.xy * reach) * 0.1;
    vec2 w = fwidth(place);
    float far2 = dot(ray.xy, ray.xy) * reach * reach, haze = far2 / (far2 + 250000.0);
    vec2 fine = lines(place, w, 1.0), broad = lines(place * 0.1, w * 0.1, 2.2);
    vec2 cell = floor(place);
    float checks = (fract(0.5 * (cell.x + cell.y)) - 0.25) * clamp(1.5 - 4.0 * max(w.x, w.y), 0.0, 1.0);
    vec3 shade = mix(near, far, haze) * (1.0 + 0.14 * checks);
    float strength = max(0.45 * max(fine.x, fine.y), 0.9 * max(broad.x, broad.y));
    colour = vec4(mix(shade, grid, strength * (1.0 - haze)), 1.0);
}
"""
)

PLANE_VERTEX = """
layout(location = 0) in vec3 place;
layout(location = 1) in vec3 direction;
layout(location = 2) in vec3 paint;
layout(location = 3) in vec2 strip;        // number, share across it
layout(location = 4) in vec3 hinge_point;
layout(location = 5) in vec3 hinge_axis;
layout(location = 6) in float control;
uniform mat4 pose, view;                   // body to earth, earth to clip
uniform vec4 sine, cosine;                 // of the deflections
uniform float separation[40];
uniform float flatten;                     // 1: the shadow on the ground
out vec3 normal, earth, body, tint;
out float across;
flat out float stalled, glazed;
vec3 turned(vec3 v, vec3 k, float s, float c) {
    return v * c + cross(k, v) * s + k * dot(k, v) * (1.0 - c);
}
void main() {
    vec3 p = place, n = direction;
    if (control >= 0.0) {
        float s = sine[int(control)], c = cosine[int(control)];
        p = hinge_point + turned(p - hinge_point, hinge_axis, s, c);
        n = turned(n, hinge_axis, s, c);
    }
    vec4 there = pose * vec4(p, 1.0);
    if (flatten > 0.5) there.z = -0.02;
    earth = there.xyz;
    normal = mat3(pose) * n;
    body = place;
    tint = paint;
    across = strip.y;
    glazed = strip.x < -1.5 ? 1.0 : 0.0;
    stalled = strip.x < 0.0 ? -1.0 : 1.0 - separation[int(strip.x)];
    gl_Position = view * there;
}
"""

PLANE_FRAGMENT = """
in vec3 normal, earth, body, tint;
in float across;
flat in float stalled, glazed;
uniform vec2 canopy;                       // middle along body x and half its length, m
uniform vec3 canopy_colour;
uniform vec3 eye, sun, stall_colour, hatch_colour, flat_colour;
uniform float show_stall, hatch_width, look;   // look 0: the plane, 1: one colour (shadow), 2: the ghost
uniform float opacity, ruling;             // ruling: pixels between the ghost's lines
out vec4 colour;
void main() {
    vec3 n = normalize(normal), to_eye = normalize(eye - earth);
    if (dot(n, to_eye) < 0.0) n = -n;
    if (look > 1.5) {
        float rim = 1.0 - abs(dot(n, to_eye));
        vec3 shade = mix(flat_colour * 1.15, flat_colour * 0.55, smoothstep(0.35, 0.85, rim));
        float rule = step(fract(gl_FragCoord.x / ruling), 0.34);   // ruled, so that grey print tells it as well
        shade *= 1.0 - 0.45 * rule;
        colour = vec4(shade, opacity + 0.3 * rule + 0.35 * smoothstep(0.5, 0.95, rim));
        return;
    }
    if (look > 0.5) { colour = vec4(flat_colour, opacity); return; }
    vec3 shade = tint;
    float edges = 0.0;
    if (glazed > 0.5 && canopy.y > 0.0) {          // across: depth below the top of the fuselage over the canopy's
        float along = (body.x - canopy.x) / canopy.y, in_it = along * along + across * across;
        float soft = fwidth(in_it);
        shade = mix(canopy_colour, shade, smoothstep(1.0 - soft, 1.0 + soft, in_it));
    }
    if (show_stall > 0.5 && stalled >= 0.0) {
        float s = clamp(stalled, 0.0, 1.0);
        float steps = (body.x + abs(body.y) + body.z) / hatch_width;
        float wide = fwidth(steps);
        float bar = smoothstep(-wide, wide, 0.25 * s - abs(fract(steps) - 0.5) + 0.01);
        bar = mix(bar, 0.5 * s, smoothstep(0.3, 0.8, wide));
        shade = mix(shade, stall_colour, smoothstep(0.1, 0.5, s));
        shade = mix(shade, hatch_colour, bar * smoothstep(0.1, 0.35, s));
        float rim = min(across, 1.0 - across) / max(fwidth(across), 1e-5);
        edges = (1.0 - smoothstep(0.4, 1.2, rim)) * (0.25 + 0.6 * smoothstep(0.1, 0.4, s)) * step(fwidth(across), 0.25);
    }
    float lit = 0.70 + 0.30 * max(dot(n, sun), 0.0) + 0.06 * (0.5 - 0.5 * n.z);
    float glint = pow(max(dot(reflect(-sun, n), to_eye), 0.0), 40.0) * 0.18;
    if (show_stall > 0.5) lit = mix(lit, 0.96, 0.7 * smoothstep(0.1, 0.5, stalled));  // told alike from below
    colour = vec4(mix(shade * lit + glint, hatch_colour, edges), 1.0);
}
"""

# A ribbon: place and time of the flight at each edge; bands of a second; what is still to come is faint.
RIBBON_VERTEX = """
layout(location = 0) in vec3 place;
layout(location = 1) in float time;
uniform mat4 view;
uniform vec3 shift;
out float at;
void main() { at = time; gl_Position = view * vec4(place + shift, 1.0); }
"""
RIBBON_FRAGMENT = """
in float at;
uniform float now, begin;
uniform vec3 even, odd;
uniform float strength;
out vec4 colour;
void main() {
    float past = at <= now ? 1.0 : 0.0;
    float band = mod(floor(at - begin + 1e-4), 2.0);
    float clear = 0.25 + 0.75 * smoothstep(0.05, 0.4, now - at);   // the tail is not covered
    colour = vec4(mix(even, odd, band), strength * (past > 0.5 ? 0.72 * clear : 0.2));
}
"""

# Lines of a width in pixels: each vertex knows its own end, the other end, which side it lies on, colour and dash (m; 0: none).
LINE_VERTEX = """
layout(location = 0) in vec3 here;
layout(location = 1) in vec3 there;
layout(location = 2) in vec3 shape;        // side -1 or 1, width in pixels of a picture 720 high, place along it in m
layout(location = 3) in vec4 paint;
layout(location = 4) in float dash;
uniform mat4 view;
uniform vec2 size;                         // of the picture, pixels
uniform vec3 shift;
out vec4 tint;
out float along, gap;
vec4 kept(vec4 p, vec4 q) {                // the end drawn back in front of the eye
    float near = 0.05;
    return p.w >= near ? p : mix(p, q, (near - p.w) / max(q.w - p.w, 1e-6));
}
void main() {
    vec4 a = view * vec4(here + shift, 1.0), b = view * vec4(there + shift, 1.0);
    vec4 p = kept(a, b), q = kept(b, a);
    vec2 way = (q.xy / q.w - p.xy / p.w) * size;
    float reach = length(way);
    vec2 across = reach > 1e-6 ? vec2(-way.y, way.x) / reach : vec2(0.0);
    p.xy += across * shape.x * shape.y * max(1.0, size.y / 720.0) / size * p.w;
    tint = paint;
    along = shape.z;
    gap = dash;
    gl_Position = p;
}
"""
LINE_FRAGMENT = """
in vec4 tint;
in float along, gap;
out vec4 colour;
void main() {
    if (gap > 0.0 && fract(along / gap) > 0.6) discard;
    colour = tint;
}
"""

# Coloured triangles in earth axes.
PLAIN_VERTEX = """
layout(location = 0) in vec3 place;
layout(location = 1) in vec4 paint;
uniform mat4 view;
out vec4 tint;
void main() { tint = paint; gl_Position = view * vec4(place, 1.0); }
"""
PLAIN_FRAGMENT = """
in vec4 tint;
out vec4 colour;
void main() { colour = tint; }
"""

# The propeller disk: blades at their angle while they can be seen, a haze as they sweep over more within one exposure.
DISK_VERTEX = """
layout(location = 0) in vec2 place;        // of the unit disk
uniform mat4 view, pose;
uniform vec3 hub, across, over;
uniform float radius;
out vec2 at;
void main() {
    at = place;
    gl_Position = view * (pose * vec4(hub + radius * (place.x * across + place.y * over), 1.0));
}
"""
DISK_FRAGMENT = """
in vec2 at;
uniform float angle, sweep, blades, chord;
uniform vec3 ink;
out vec4 colour;
void main() {
    float r = length(at);
    if (r > 1.0) discard;
    float spacing = 6.2831853 / blades;
    float wide = chord * (1.2 - 0.7 * r) / max(r, 0.08);
    float trail = min(sweep, spacing);
    float back = mod(angle - atan(at.y, at.x) + 0.5 * wide, spacing);
    float seen = back < wide + trail ? wide / (wide + trail) : 0.0;
    float rim = smoothstep(0.975, 0.985, r) * 0.5;
    colour = vec4(ink, max(clamp(0.9 * seen + 0.04, 0.0, 0.9), rim));
}
"""
