"""Tubes as beams: section, stresses and margins against the formulas of Roark and Timoshenko (from memory), worked apart."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from models.materials import MATERIALS
from sim import structure as T
from sim.description import Joiner, Material

ALLOY = Material("an alloy", 70e9, 300e6, 300e6, 180e6, 240e6, "")
FIBRE = Material("a fibre", 100e9, 900e6, 600e6, 30e6, None, "")


def tube(diameter=0.030, wall=0.001, material=ALLOY, **more) -> Joiner:
    return Joiner("wing", diameter, wall, material, -0.15, more.pop("reach", 0.3), **more)


@pytest.mark.parametrize("wall", [0.0005, 0.001, 0.004, 0.015])
def test_section_against_its_integrals(wall):
    # I = integral of y^2, A = integral of 1 over the ring, cut into strips of breadth b(y)
    outer, inner = 0.015, 0.015 - wall

    def breadth(y):
        return 2.0 * (math.sqrt(outer**2 - y * y) - math.sqrt(max(inner**2 - y * y, 0.0)))

    def over_height(f, low):  # y = R sin(t), so that the ends are smooth
        corners = [math.asin(y / outer) for y in (-inner, inner) if y > low]
        ends = math.asin(low / outer), math.pi / 2
        return quad(
            lambda t: f(outer * math.sin(t)) * outer * math.cos(t), *ends, points=corners, epsabs=0.0, limit=200
        )[0]

    area, second = over_height(breadth, -outer), over_height(lambda y: y * y * breadth(y), -outer)
    first = over_height(lambda y: y * breadth(y), 0.0)
    assert T.section_area(0.030, wall) == pytest.approx(area, rel=1e-6)
    assert T.second_moment(0.030, wall) == pytest.approx(second, rel=1e-6)
    assert T.bending_stress(tube(wall=wall), 50.0) == pytest.approx(50.0 * outer / second, rel=1e-6)
    # shear at the neutral axis: V Q / (I b)
    assert T.shear_stress(tube(wall=wall), 200.0) == pytest.approx(200.0 * first / (second * breadth(0.0)), rel=1e-6)


def test_limits_of_thick_and_thin_walls():
    rod, thin = tube(wall=0.015), tube(wall=1e-6)
    # solid: 32 M / pi D^3 and 4/3 of the mean shear
    assert T.bending_stress(rod, 10.0) == pytest.approx(32.0 * 10.0 / (math.pi * 0.03**3))
    assert T.shear_stress(rod, 10.0) == pytest.approx(4.0 / 3.0 * 10.0 / (math.pi * 0.015**2))
    # thin: M / (pi R^2 t) and twice the mean; of the wall over the radius, 1e-4, the rest
    assert T.bending_stress(thin, 10.0) == pytest.approx(10.0 / (math.pi * 0.015**2 * 1e-6), rel=2e-4)
    assert T.shear_stress(thin, 10.0) == pytest.approx(10.0 / (math.pi * 0.015 * 1e-6), rel=2e-4)


def test_a_margin_by_hand():
    # 30 x 1 mm: I = pi / 64 (30^4 - 28^4) = 9589 mm4; 100 N m gives 100e3 * 15 / 9589 = 156.4 MPa
    assert T.second_moment(0.030, 0.001) * 1e12 == pytest.approx(9588.9, abs=0.1)
    stress = T.bending_stress(tube(), 100.0)
    assert stress / 1e6 == pytest.approx(156.43, abs=0.01)
    assert T.allowed_bending(ALLOY) == (pytest.approx(200e6), "break")  # 300 / 1.5 comes before its yield
    assert T.margin(tube(), stress, 0.0) == pytest.approx(200.0 / 156.43 - 1.0, abs=1e-4)
    soft = Material("soft", 70e9, 400e6, 400e6, 200e6, 150e6, "")
    assert T.allowed_bending(soft) == (150e6, "yield")
    assert (
        T.margin(tube(material=soft), stress, 0.0) == pytest.approx(150.0 / 156.43 - 1.0, abs=1e-4) and stress > 150e6
    )


def test_shear_governs_where_it_is_worse():
    # a fibre tube: 600 / 1.5 = 400 in bending (the weaker side, compression), 30 / 1.5 = 20 in shear
    assert T.allowed_bending(FIBRE) == (pytest.approx(400e6), "break") and T.allowed_shear(FIBRE) == 20e6
    assert T.margin(tube(material=FIBRE), 100e6, 10e6) == pytest.approx(1.0)
    assert T.margin(tube(material=FIBRE), 300e6, 10e6) == pytest.approx(1.0 / 3.0)
    # metals: 180 / 1.5 = 120 comes before 240 / root 3 = 138.6
    assert T.allowed_shear(ALLOY) == pytest.approx(120e6)


def test_tubes_share_and_moments_have_no_sign():
    assert T.bending_stress(tube(tubes=2), -80.0) == pytest.approx(T.bending_stress(tube(), 40.0))
    assert T.shear_stress(tube(tubes=2), np.array([-80.0]))[0] == pytest.approx(T.shear_stress(tube(), 40.0))


def test_bend_angle_is_the_integral_of_moment_over_stiffness():
    # virtual work: unit moment M(s)/M0 is 1 from the middle to the rib and falls to 0 at the tube's end
    joiner, rib, moment = tube(reach=0.3), 0.1, 90.0
    stiffness = ALLOY.modulus * T.second_moment(0.030, 0.001)
    inside = rib * moment / stiffness
    beyond = quad(lambda s: moment * (1.0 - s / 0.3) ** 2 / stiffness, 0.0, 0.3)[0]
    assert T.bend_angle(joiner, rib, moment) == pytest.approx(inside + beyond)


def test_materials_against_typical_values():
    # ASM Metals Handbook, Desk Edition, p. 6-34: typical 2024-T3 70 / 50 / 40 ksi (tension, yield, shear); 6061-T6 45 / 40
    # / 30, 7075-T6 83 / 73 / 48 (from memory).  A minimum lies below the typical value, by no more than a fifth.
    ksi = 6.894757e6
    typical = {"2024-T3": (70, 50, 40), "6061-T6": (45, 40, 30), "7075-T6": (83, 73, 48)}
    for name, values in typical.items():
        material = MATERIALS[name]
        for found, value in zip((material.tension, material.yields, material.shear), values):
            assert 0.8 <= found / (value * ksi) <= 1.0, name
        # ASM, same edition: E of aluminium alloys 10 to 10.6 Msi, compression modulus 2 % higher (from memory)
        assert material.modulus / 6.894757e9 == pytest.approx(10.2, abs=0.35)
    for material in MATERIALS.values():
        assert material.source and material.shear < material.compression <= material.tension
        assert (material.yields is not None) == material.name.endswith(("T3", "T6"))
