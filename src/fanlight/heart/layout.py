"""Where everything in the heart stands at one moment, in rest coordinates of the heart (mm): one place, one number.

Lengths written as bare factors are in units (the inner diameter of this animal's healthy left ventricle). They are
engineering judgement, tuned on cut planes until anatomy and Doppler angles agree with what the trade expects; published
sizes come in through ``anatomy_sizes``.
"""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.heart.anatomy import Anatomy
from fanlight.heart.av_valve import AvValve, LeafletShape, make_valve
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.heart_frame import BaseMotion
from fanlight.heart.left_ventricle import LeftVentricle, base_motion, left_ventricle, papillary_muscles
from fanlight.heart.rods import Egg, Rod
from fanlight.heart.semilunar_valve import Root
from fanlight.heart.triple import Triple, across, add, cross, minus, mix, scaled, unit

MITRAL_SEPTAL = LeafletShape(
    links=(0.654, 0.640), shut_deg=(-23.4, -19.6), open_deg=(-94.0, -110.0),
    prolapsed_deg=(28.0, -16.0), prolapsed_links=(0.66, 0.68),
)  # fmt: skip
MITRAL_PARIETAL = LeafletShape(
    links=(0.453, 0.560), shut_deg=(-41.0, -17.7), open_deg=(-92.0, -82.0),
    prolapsed_deg=(38.0, -22.0), prolapsed_links=(0.50, 0.56),
)  # fmt: skip
TRICUSPID_SEPTAL = LeafletShape(links=(0.50, 0.55), shut_deg=(-26.0, -18.0), open_deg=(-80.0, -88.0))
TRICUSPID_PARIETAL = LeafletShape(links=(0.62, 0.62), shut_deg=(-34.0, -16.0), open_deg=(-96.0, -88.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The heart now."""

    unit_mm: float
    motion: BaseMotion
    lv: LeftVentricle
    papillary: tuple[Rod, Rod]  # cranial, caudal
    mitral: AvValve
    tricuspid: AvValve
    aortic: Root
    commissures_deg: Triple  # right/non-coronary, left/non-coronary, right/left; angles about the aortic axis
    aortic_bend: tuple[Triple, float]  # direction and curvature (1/mm) beyond the sinuses
    aortic_end_mm: float  # length of the modelled aorta from the annulus
    outflow: Rod
    pulmonic: Root
    la: Egg
    la_wall_mm: float
    left_auricle: tuple[Rod, Rod]
    veins: tuple[Rod, ...]
    ra: Egg
    ra_wall_mm: float
    right_auricle: tuple[Rod, Rod]
    caval: tuple[Rod, Rod]  # cranial, caudal
    septum_point: Triple  # of the atrial septum
    septum_normal: Triple  # from the right to the left atrium
    septum_half_mm: float
    rv: Egg
    rv_wall_mm: float
    inlet: Rod  # part of the right ventricle below the tricuspid valve
    conus: tuple[Rod, Rod]
    rv_band: Rod
    rv_papillary: tuple[Rod, ...]
    trunk: Rod
    right_branch: tuple[Rod, Rod]
    left_branch: Rod
    vessel_wall_mm: float
    fluid_mm: float
    pericardium_mm: float


def layout(anatomy: Anatomy, state: CycleState) -> Layout:
    """Return the heart of this anatomy at this moment."""
    sizes, disease = anatomy.sizes, anatomy.disease
    u = sizes.unit_mm
    lv = left_ventricle(anatomy, state)
    motion = base_motion(anatomy, state)
    base = lv.base_mm
    # The base narrows with the ring of the ventricle; what stands on it comes along.
    ring = lv.base_radius_mm / (0.44 * u)
    ring_now = lv.base_radius_mm / lv.rest_base_radius_mm

    def on_base(a: float, b: float, c: float) -> Triple:
        return (base + a * u, b * u * ring, c * u * ring)

    # A wide ventricle pushes the right heart away.
    push = lv.septal_surface_mm - 0.74 * u

    def right(a: float, b: float, c: float) -> Triple:
        return (base + a * u, b * u, c * u - push)

    # --- mitral valve
    mitral_up = unit((1.0, 0.04, -0.06))
    mitral_across = across((0.0, -0.26, 0.966), mitral_up)
    mitral = make_valve(
        centre=on_base(0.0, -0.10, 0.02),
        up=mitral_up,
        across=mitral_across,
        along=cross(mitral_across, mitral_up),
        radius_mm=0.31 * u * ring**0.8,
        half_mm=max(0.0145 * u, 0.30),
        septal=MITRAL_SEPTAL,
        parietal=MITRAL_PARIETAL,
        opening=state.mitral_opening * (1.0 - disease.mitral_restriction_fraction),
        prolapse=disease.prolapse_fraction * min(max(state.contraction, 0.0), 1.0),
    )
    # --- aorta: its wall touches the mitral ring, its right side stands over the septum
    ao = sizes.aorta_mm
    axis = unit((0.97, 0.22, -0.04))
    aortic_centre = add(on_base(0.02, 0.27, -0.35), (0.0, 1.0, -1.0), 0.25 * (ao - 0.57 * u))
    la_side = across((0.0, -0.68, 0.73), axis)
    first = scaled(la_side, -1.0)
    aortic = Root(
        centre=aortic_centre,
        axis=axis,
        first_cusp=first,
        second=cross(axis, first),
        diameter_mm=ao,
        opening=state.aortic_opening,
        half_mm=max(0.013 * u, 0.28),
        trefoil=0.06,
    )
    bend = across((-0.1, -0.55, 0.75), axis)
    outflow = Rod(
        start=add(add(aortic_centre, axis, -0.42 * u), (0.0, -0.16, 0.16), u * ring_now),
        end=add(aortic_centre, axis, 0.03 * u),
        start_mm=0.40 * ao,
        end_mm=0.42 * ao,
    )
    # --- left atrium: its size is set so that it measures as drawn beside the aorta
    wall = 0.045 * u
    la_grown = sizes.la_ao_ratio * ao / (0.78 * u)  # 1 in a healthy dog
    filling = 1.0 + 0.09 * (state.atrial_filling - 1.0)
    extra = (la_grown - 1.0) * u
    septum_normal = unit((0.05, -0.10, 1.0))
    septum_point = right(0.36, -0.18, -0.42)
    septum_point = (septum_point[0], septum_point[1], septum_point[2] + push * 0.6 - 0.10 * extra)
    la_centre = add((base + 0.39 * u, -0.19 * u, 0.09 * u), (0.20, -0.10, 0.34), extra)
    la = Egg(
        centre=la_centre,
        radii=(
            (0.445 * u + 0.34 * extra) * filling,
            (0.40 * u + 0.36 * extra) * filling,
            (0.485 * u + 0.44 * extra) * filling,
        ),
    )
    auricle_root = add(la_centre, (-0.06, 0.26, 0.30), u * (1.0 + 0.5 * (la_grown - 1.0)))
    auricle_mid = add(on_base(0.28, 0.46, 0.68), (0.0, 0.05, 0.2), extra)
    auricle_tip = add(on_base(0.20, 0.76, 0.58), (0.0, 0.05, 0.2), extra)
    swell = 1.0 + 0.4 * (la_grown - 1.0)
    left_auricle = (
        Rod(start=auricle_root, end=auricle_mid, start_mm=0.19 * u * swell, end_mm=0.15 * u * swell),
        Rod(start=auricle_mid, end=auricle_tip, start_mm=0.15 * u * swell, end_mm=0.08 * u * swell),
    )
    veins = []
    for direction in ((0.45, -0.72, 0.52), (0.62, -0.78, -0.05), (0.92, -0.36, 0.18)):
        out = unit(direction)
        mouth = add(la_centre, (out[0] * la.radii[0], out[1] * la.radii[1], out[2] * la.radii[2]), 0.80)
        veins.append(Rod(start=mouth, end=add(mouth, out, 0.55 * u), start_mm=0.115 * u, end_mm=0.095 * u))
    # --- right heart
    tricuspid_up = unit((0.81, -0.47, -0.35))
    tricuspid_across = scaled(across((0.0, 0.0, 1.0), tricuspid_up), -1.0)
    big = disease.right_atrium_ratio
    tricuspid = make_valve(
        centre=right(-0.10, -0.22, -0.80),
        up=tricuspid_up,
        across=tricuspid_across,
        along=cross(tricuspid_across, tricuspid_up),
        radius_mm=0.27 * u * big**0.7,
        half_mm=max(0.0125 * u, 0.28),
        septal=TRICUSPID_SEPTAL,
        parietal=TRICUSPID_PARIETAL,
        opening=state.tricuspid_opening,
        prolapse=0.0,
    )
    wide = sizes.rv_size_ratio
    squeeze = state.right_contraction
    rv_depth = (0.56 * u * (0.25 + 0.75 * wide)) * (1.0 - 0.20 * squeeze)
    rv = Egg(
        centre=(0.06 * u, 0.10 * u, -0.41 * u - push),
        radii=(1.0 * u * (0.7 + 0.3 * wide), 0.73 * u * (0.6 + 0.4 * wide) * (1.0 - 0.10 * squeeze), rv_depth),
    )
    inlet = Rod(
        start=add(tricuspid.centre, tricuspid_up, -0.06 * u),
        end=add(tricuspid.centre, tricuspid_up, -0.42 * u),
        start_mm=0.98 * tricuspid.radius_mm,
        end_mm=0.62 * tricuspid.radius_mm * (1.0 - 0.15 * squeeze),
    )
    pa_radius = 0.5 * sizes.pulmonary_ao_ratio * ao
    pv = right(0.10, 0.78, 0.14)
    pv = add((pv[0], pv[1], pv[2] + push), (0.0, 0.5, 0.0), ao - 0.57 * u)
    raised = max(0.0, la_centre[0] + la.radii[0] - (base + 0.87 * u))
    bif = add((base + 0.80 * u, 0.32 * u, 0.40 * u), (1.0, 0.0, 0.25), raised)
    trunk_axis = unit(minus(bif, pv))
    pulmonic = Root(
        centre=pv,
        axis=trunk_axis,
        first_cusp=across((0.0, 1.0, 0.3), trunk_axis),
        second=cross(trunk_axis, across((0.0, 1.0, 0.3), trunk_axis)),
        diameter_mm=2.0 * pa_radius * 1.06,
        opening=state.pulmonic_opening,
        half_mm=max(0.0115 * u, 0.26),
        trefoil=0.05,
    )
    conus_foot = (base - 0.36 * u, 0.40 * u, -0.80 * u - push)
    conus_mid = (base - 0.04 * u, 0.80 * u, -0.50 * u - 0.5 * push)
    throat = 0.9 * pa_radius
    tight = 1.0 - 0.12 * squeeze
    conus = (
        Rod(start=conus_foot, end=conus_mid, start_mm=0.25 * u * tight, end_mm=1.06 * pa_radius * tight),
        Rod(start=conus_mid, end=add(pv, trunk_axis, 0.02 * u), start_mm=1.06 * pa_radius * tight, end_mm=throat),
    )
    trunk = Rod(start=add(pv, trunk_axis, 0.05 * u), end=bif, start_mm=pa_radius, end_mm=pa_radius)
    branch = 0.66 * pa_radius
    rpa_mid = (bif[0] + 0.06 * u, -0.10 * u, 0.12 * u)
    rpa_end = (bif[0] + 0.06 * u, -0.62 * u, -0.28 * u)
    right_branch = (
        Rod(start=bif, end=rpa_mid, start_mm=branch, end_mm=branch),
        Rod(start=rpa_mid, end=rpa_end, start_mm=branch, end_mm=0.8 * branch),
    )
    left_branch = Rod(start=bif, end=add(bif, (0.25, 0.02, 0.50), u), start_mm=branch, end_mm=0.8 * branch)
    ra_filling = 1.0 + 0.06 * (state.atrial_filling - 1.0)
    ra = Egg(
        centre=right(0.34, -0.36, -0.80 - 0.15 * (big - 1.0)),
        radii=(0.43 * u * big * ra_filling, 0.42 * u * big * ra_filling, 0.42 * u * big * ra_filling),
    )
    ear_mid = right(0.52, 0.24, -0.98)
    ear_tip = right(0.54, 0.68, -0.74)
    right_auricle = (
        Rod(start=right(0.42, -0.12, -0.90), end=ear_mid, start_mm=0.22 * u * big, end_mm=0.17 * u * big),
        Rod(start=ear_mid, end=ear_tip, start_mm=0.17 * u * big, end_mm=0.09 * u * big),
    )
    frame = anatomy.frame
    cranial = frame.to_heart(unit((1.0, 0.1, 0.1)))
    caudal = frame.to_heart(unit((-1.0, 0.0, 0.05)))
    upper = add(ra.centre, (0.28, -0.12, 0.02), u)
    lower = add(ra.centre, (0.06, -0.26, 0.0), u)
    caval = (
        Rod(start=upper, end=add(upper, cranial, 0.95 * u), start_mm=0.18 * u, end_mm=0.17 * u),
        Rod(start=lower, end=add(lower, caudal, 0.75 * u), start_mm=0.19 * u, end_mm=0.18 * u),
    )
    band_a = -0.18 * u
    band = Rod(
        start=(band_a, 0.20 * u, -lv.septal_surface_mm + 0.02 * u),
        end=(band_a - 0.12 * u, 0.42 * u, rv.centre[2] - 0.80 * rv_depth),
        start_mm=0.050 * u,
        end_mm=0.045 * u,
    )
    rv_tip = add(tricuspid.centre, tricuspid_up, -0.58 * u)
    rv_papillary = (
        Rod(
            start=(-0.28 * u, 0.05 * u, rv.centre[2] - 0.86 * rv_depth),
            end=mix(rv_tip, (-0.20 * u, 0.10 * u, rv.centre[2] - 0.62 * rv_depth), 0.5),
            start_mm=0.075 * u,
            end_mm=0.04 * u,
        ),
    )
    return Layout(
        unit_mm=u,
        motion=motion,
        lv=lv,
        papillary=papillary_muscles(lv, u, state.contraction),
        mitral=mitral,
        tricuspid=tricuspid,
        aortic=aortic,
        # The right cusp is the first; the left one lies on the side of the free wall.
        commissures_deg=(300.0, 180.0, 60.0) if aortic.second[2] > 0.0 else (60.0, 180.0, 300.0),
        aortic_bend=(bend, 0.35 / u),
        aortic_end_mm=1.35 * u,
        outflow=outflow,
        pulmonic=pulmonic,
        la=la,
        la_wall_mm=wall,
        left_auricle=left_auricle,
        veins=tuple(veins),
        ra=ra,
        ra_wall_mm=0.9 * wall,
        right_auricle=right_auricle,
        caval=caval,
        septum_point=septum_point,
        septum_normal=septum_normal,
        septum_half_mm=0.032 * u,
        rv=rv,
        rv_wall_mm=sizes.rv_free_wall_mm * (1.0 + 0.25 * squeeze),
        inlet=inlet,
        conus=conus,
        rv_band=band,
        rv_papillary=rv_papillary,
        trunk=trunk,
        right_branch=right_branch,
        left_branch=left_branch,
        vessel_wall_mm=0.045 * u,
        fluid_mm=disease.effusion_mm,
        pericardium_mm=0.042 * u + disease.pericardium_mm,
    )
