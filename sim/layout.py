"""Where everything lies in the flat arrays that the kernels work on.

One aeroplane is one flat float64 array ("the model"), constants first, scratch rows
after them.  Offsets are compile-time constants, so the compiler knows that two rows
never overlap and turns the strip loops into vector code::

    [ scalars | strip rows, PAD each | node rows, NODES each | influence blocks | scratch rows | twin | more scratch ]

    strip i of a row R          m[R + i]
    node k, strip i of a block  m[BLOCK + k * PAD + i]

The state of a flight is one vector::

    north east down | q0 q1 q2 q3 | u v w | p q r | rotor speed | charge or fuel used | acting throttle |
    surfaces, as their servos hold them (4) | circulation (PAD) | separation (PAD) | distance flown through the air

Circulation in m2/s, separation point 0 (separated) to 1 (attached), SI throughout.  In turbulence the series of the
gusts (`sim.wind`) follow behind SIZE.
"""

from __future__ import annotations

PAD = 40  # most strips of one aeroplane
NODES = 48  # most trailing-leg nodes: strips plus one per chain of strips
PANELS = 16  # most panels that shed a separated wake
BODIES = 16  # most fuselage slices and drag bodies together
CONTROLS = 4
AILERON_LEFT, AILERON_RIGHT, ELEVATOR, RUDDER = range(CONTROLS)

# ---- state vector -----------------------------------------------------------------
POSITION, QUATERNION, VELOCITY, RATES, ROTOR, CHARGE, POWER_LAG, SERVO = 0, 3, 7, 10, 13, 14, 15, 16
CIRCULATION = SERVO + CONTROLS
SEPARATION = CIRCULATION + PAD
AIR_PATH = SEPARATION + PAD
STATE = AIR_PATH + 1

# ---- command vector: what the transmitter sends ------------------------------------
THROTTLE = (
    CONTROLS  # after the four servo commands (rad, as at the surface: servo angle times the linkage's rate at neutral)
)
COMMAND = CONTROLS + 1

# ---- account by part: forces and moments about the CG, body axes ---------------------
PARTS = (
    "wing left",
    "wing right",
    "stabiliser",
    "fin",
    "other surfaces",
    "fuselage",
    "gear and cowl",
    "propeller thrust line",
    "propeller oblique inflow",
    "gyroscopic",
    "motor torque",
    "weight",
)
(WING_LEFT, WING_RIGHT, STABILISER, FIN, OTHER, FUSELAGE, DRAG_BODIES, THRUST, OBLIQUE, GYROSCOPIC, TORQUE, WEIGHT) = (
    range(len(PARTS))
)
N_PARTS = len(PARTS)

_end = 0


def _take(count: int) -> int:
    global _end
    start = _end
    _end += count
    return start


# ---- scalars ---------------------------------------------------------------------------
MASS = _take(1)
INERTIA = _take(9)  # about the CG
INVERSE_MASS = _take(36)  # inverse of the mass matrix about the CG, added mass in it: linear, then angular
N_STRIPS = _take(1)
N_NODES = _take(1)
N_FUSELAGE = _take(1)
N_BODIES = _take(1)
N_PANELS = _take(1)
WIND = _take(3)  # steady wind at its reference height, earth axes (air moving towards north, east, down)
WIND_ROUGHNESS = _take(1)  # roughness length of the ground, m; 0: the wind is the same at all heights
WIND_PROFILE = _take(1)  # 1 / ln(reference height / roughness length)
QUICK = _take(1)  # 1: strips in single precision (flights), 0: in double precision (trim, linear models)
GUSTS = _take(1)  # 1 when there is turbulence or a gust
TURBULENCE = _take(1)  # sigma_w, m/s
TURBULENCE_AXIS = _take(2)  # the way the longitudinal component runs: north, east
GUST_PEAK = _take(3)  # velocity in the middle of the 1-cosine gust, earth axes
GUST_AFTER, GUST_LENGTH = _take(1), _take(1)  # m of path
SWEPT = _take(1)  # m/s: a plane that is slower through the air is swept by the gusts at that speed
WING_SPAN = _take(1)
SWIRL_ON = _take(1)  # 1, or 0 to see what swirl does
HUB = _take(3)  # propeller disk centre less CG
SHAFT = _take(3)  # unit vector, forward along the shaft
DISK_RADIUS = _take(1)
SENSE = _take(1)  # +1 clockwise seen from behind
ROTOR_INERTIA = _take(1)
POWER_KIND = _take(1)  # powerplant.ELECTRIC or PISTON
CELL_VOLTS_FULL = _take(1)
CELL_VOLTS_EMPTY = _take(1)
CAPACITY = _take(1)
BATTERY_RESISTANCE = _take(1)
KV = _take(1)
WINDING_RESISTANCE = _take(1)
NO_LOAD_CURRENT = _take(1)
CURRENT_LIMIT = _take(1)
FUEL = _take(1)  # kg
FUEL_PER_JOULE = _take(1)  # of indicated work
THROTTLE_LAG = _take(1)
TORQUE_TOP = _take(1)  # rotor speed at the end of the torque map
TORQUE_POINTS = 33
TORQUE_MAP = _take(TORQUE_POINTS)  # full-throttle brake torque at even steps of rotor speed from 0
FRICTION = _take(1)
FRICTION_SLOPE = _take(1)
PUMPING = _take(1)  # torque against a shut throttle
BREATHING = _take(1)  # rotor speed at which an open throttle passes 0.62 of the full charge
IDLE_OPENING = _take(1)
STIFFNESS = _take(1)  # fastest circulation rate per local speed, 1/m
SERVO_SPEED = _take(CONTROLS)  # of a servo without load; all angles and rates as at the surface
SERVO_LAG = _take(CONTROLS)
SERVO_LOADED = _take(CONTROLS)  # 0: a servo that no load moves, straight on the surface
SERVO_GIVE = _take(CONTROLS)  # 1 / stall torque of all of a surface's servos; 0: not given
SERVO_BAND = _take(CONTROLS)  # error at which it pulls with its full torque
SERVO_PLAY = _take(CONTROLS)  # half of the play and the dead band at the surface
SERVO_PLAY_HELD = _take(CONTROLS)  # hinge moment below which the surface stands inside its play
SERVO_YIELD = _take(CONTROLS)  # angle given back over angle asked for, over speed squared; by the servo
SERVO_PLAY_YIELD = _take(CONTROLS)  # likewise, by the play
SERVO_LOW, SERVO_HIGH = _take(CONTROLS), _take(CONTROLS)  # mechanical stops
LINKAGE_POINTS = 33
LINKAGE_SCALE = _take(CONTROLS)  # 1 / deflection at the ends of the tables; 0: no linkage
LINKAGE_ANGLE = _take(CONTROLS * LINKAGE_POINTS)  # servo angle over deflection, by control
LINKAGE_RATE = _take(CONTROLS * LINKAGE_POINTS)  # surface over servo there, over that at neutral
FUSELAGE_CROSS_DRAG = _take(1)
_end += -_end % 8

# ---- strip rows ----------------------------------------------------------------------------
X, Y, Z = _take(PAD), _take(PAD), _take(PAD)  # quarter-chord point less CG: loads act there
VX, VY, VZ = _take(PAD), _take(PAD), _take(PAD)  # three-quarter-chord point less CG: flow is met there
FX, FY, FZ = _take(PAD), _take(PAD), _take(PAD)  # chord line, forward
NX, NY, NZ = _take(PAD), _take(PAD), _take(PAD)  # normal, towards the suction side at positive alpha
SX, SY, SZ = _take(PAD), _take(PAD), _take(PAD)  # span, such that normal = span x forward
CHORD = _take(PAD)
AREA = _take(PAD)
HALF_WIDTH = _take(PAD)
BLOCKED = _take(PAD)  # fuselage section over pi at the strip's station: the slipstream flows round it
FEEDBACK = _take(PAD)  # 1 + gain of the stiffest circulation pattern, neighbours with opposite sign
SUCTION_GAIN = _take(PAD)  # 1 - downwash at the bound leg over that at the three-quarter-chord point
LIFT_SLOPE = _take(PAD)
PLATE_NORMAL = _take(PAD)  # normal force coefficient broadside
SPAN_REACH = _take(PAD)  # how much further aft the trailing edge lies at the end of the strip than at its start (m)
LEG_ARM = _take(PAD)  # couple of its two legs along the chord, over circulation times flow along the span (m2)
SIDE_EDGE = _take(PAD)  # tip strips: lift of the vortex along the side edge, over sin^2(alpha)
BREAK_WIDTH = _take(PAD)  # how abrupt the stall is, in sin(alpha)
FLAP_TAU = _take(PAD)
FLAP_CHORD = _take(PAD)
FLAP_LOAD = _take(PAD)  # how hard a deflection loads the section: sets where it separates
HINGE_SCALE = _take(PAD)  # flap chord squared times flap span (m3)
HINGE_ALPHA, HINGE_DELTA = _take(PAD), _take(PAD)  # Glauert's slopes per rad, as realised
CONTROL = _take(PAD)  # which control moves the strip's flap
PART = _take(PAD)
SURFACE = _take(PAD)  # which surface the strip belongs to

# ---- node rows and influence blocks -----------------------------------------------------------
NODE_X, NODE_Y, NODE_Z = _take(NODES), _take(NODES), _take(NODES)
NODE_BEFORE, NODE_AFTER = _take(NODES), _take(NODES)  # strips that meet at the node; PAD means none
REACH = _take(NODES * PAD)  # distance node to strip
REACH_CORE = _take(NODES * PAD)  # its square plus the square of the core
STALL_CORE = _take(NODES * PAD)  # core that grows with separation, own chain only
BOUND_F = _take(PAD * PAD)  # chordwise velocity at strip i from the bound leg of strip j: [j * PAD + i]
BOUND_N = _take(PAD * PAD)  # normal velocity likewise

# ---- bodies: fuselage slices, then drag bodies ----------------------------------------------------
BODY_X, BODY_Y, BODY_Z = _take(BODIES), _take(BODIES), _take(BODIES)
BODY_LENGTH = _take(BODIES)
BODY_WIDTH = _take(BODIES)
BODY_BLOCKED = _take(BODIES)
BODY_HEIGHT = _take(BODIES)
BODY_GROWTH_V = _take(BODIES)  # rise of the vertical added-mass area over the slice (m2), less the stern's loss
BODY_GROWTH_L = _take(BODIES)  # likewise lateral
BODY_ADDED_V, BODY_ADDED_L = _take(BODIES), _take(BODIES)  # added mass per length over density (m2)
BODY_DRAG_X, BODY_DRAG_Y, BODY_DRAG_Z = _take(BODIES), _take(BODIES), _take(BODIES)  # drag areas

# ---- panels that shed a separated wake: halves of surfaces, then the fuselage -----------------------------
PANEL_X, PANEL_Y, PANEL_Z = _take(PANELS), _take(PANELS), _take(PANELS)  # middle
PANEL_SX, PANEL_SY, PANEL_SZ = _take(PANELS), _take(PANELS), _take(PANELS)  # span
PANEL_NX, PANEL_NY, PANEL_NZ = _take(PANELS), _take(PANELS), _take(PANELS)  # normal; fuselage: depth in the first
PANEL_HALF = _take(PANELS)  # half of the span
PANEL_CHORD = _take(PANELS)  # fuselage: breadth
PANEL_DRAG = _take(PANELS)  # drag coefficient broadside
PANEL_FIRST, PANEL_LAST = _take(PANELS), _take(PANELS)  # strips; none for the fuselage
PANEL_SURFACE = _take(PANELS)

# ---- scratch rows ------------------------------------------------------------------------------------
MOTION = _take(7)  # u, v, w, p, q, r through the steady air, and its density
AT_HUB = _take(
    9
)  # velocity through the air, its part along the shaft, induced speed, torque, velocity across the shaft
DOWNSTREAM, DOWN = _take(3), _take(3)  # unit vectors: along the wake, and along gravity
HEIGHT = _take(1)  # of the CG over ground
STAGE_FLAP = _take(3 * CONTROLS)  # angle, sine and cosine by control
GAMMA = _take(PAD + 8)  # circulation with a zero behind it for chain ends
SEPARATION_NOW = _take(PAD)  # separation point of the state
SEPARATED = _take(PAD)  # the same, limited to 0..1
GUST_X, GUST_Y, GUST_Z = _take(PAD), _take(PAD), _take(PAD)  # gust velocity at the strip
AX, AY, AZ = _take(PAD), _take(PAD), _take(PAD)  # velocity of the air there without swirl: slipstream, gust, shade
WX, WY, WZ = _take(PAD), _take(PAD), _take(PAD)  # swirl velocity
JET_EDGE = _take(PAD)  # normal velocity per circulation that the jet's edge sends back (1/m)
SHADE = _take(PAD)  # share of the stream's speed that separated wakes have taken
E0, E1, E2, E3 = _take(PAD), _take(PAD), _take(PAD), _take(PAD)  # node sums
IF, IN = _take(PAD), _take(PAD)  # bound-leg velocities
STAGE_D, STAGE_F = _take(PAD), _take(PAD)  # wake direction times place; 1 - separation point
NODE_D, NODE_T = _take(NODES), _take(NODES)  # wake direction times place of the node; strength of its leg
NODE_TX, NODE_TY, NODE_TZ = _take(NODES), _take(NODES), _take(NODES)  # strength times place
FLAP_TURN = _take(PAD)  # effective rotation of the zero-lift line
FLAP_SIN, FLAP_COS = _take(PAD), _take(PAD)
RX, RY, RZ = _take(PAD), _take(PAD), _take(PAD)  # strip force
HINGE = _take(PAD)  # hinge moment of the strip (N m, trailing edge down or left)
LX, LY, LZ = _take(PAD), _take(PAD), _take(PAD)  # strip moment about the CG
D_GAMMA, D_SEPARATION = _take(PAD), _take(PAD)
SIN_ALPHA, COS_ALPHA, PACE = _take(PAD), _take(PAD), _take(PAD)  # local flow; chords travelled per second
BODY_GX, BODY_GY, BODY_GZ = _take(BODIES), _take(BODIES), _take(BODIES)  # gust velocity at the bodies
BODY_FX, BODY_FY, BODY_FZ = _take(BODIES), _take(BODIES), _take(BODIES)  # force of each body
BODY_TX, BODY_TY, BODY_TZ = _take(BODIES), _take(BODIES), _take(BODIES)  # its moment about the CG

# ---- the twin of all of the above in single precision, two numbers in the place of one (`sim.single_precision`) -----
TWINNED = _end
TWIN = _take((TWINNED + 1) // 2)
_end += -_end % 8

# ---- scratch in double precision alone ------------------------------------------------------------------
ACCOUNT = _take(6 * N_PARTS)
HINGE_MOMENT = _take(8)  # by control, of the last evaluation
PROP_OUT = _take(16)
AIR = _take(3)  # velocity of the air at the CG, gusts included, earth axes
GUST_FRAME = _take(16)  # path, direction of flight, components of turbulence and gust in body axes
SIZE = _end
