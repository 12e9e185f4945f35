"""Where blood runs in the right heart at one moment: venae cavae, inflow, outflow tract, lung artery, and its jets."""

from __future__ import annotations

from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.blood.flow_now import FlowNow
from fanlight.heart.blood.jet import Jet
from fanlight.heart.blood.left_streams import BESIDE_JET, Seen, filling, inflow_knots, leaning, tips_middle
from fanlight.heart.blood.stream import Knot, Way, through
from fanlight.heart.layout import Layout
from fanlight.heart.tissue import Tissue
from fanlight.heart.triple import Triple, add, mix

RIGHT_ATRIAL = (Tissue.RA_CAVITY, Tissue.RIGHT_AURICLE)
RIGHT_VENTRICULAR = (Tissue.RV_CAVITY, Tissue.RV_OUTFLOW)
PULMONARY = (Tissue.PULMONARY_TRUNK, Tissue.RIGHT_PULMONARY_ARTERY, Tissue.LEFT_PULMONARY_ARTERY)
_CRANIAL_SHARE = 1 / 3  # of the venous return through the cranial vena cava (from memory)


def right_streams(heart: Layout, circulation: Circulation, flow: FlowNow, seen: Seen) -> list[Way]:
    """Return what flows in the right heart (rest coordinates along the long axis), where it can be seen."""
    out = []
    atrium, valve, body = heart.right_atrium, heart.rv.tricuspid, heart.rv.body
    if flow.tricuspid and seen((*RIGHT_ATRIAL, *RIGHT_VENTRICULAR)):
        wide = 0.9 * min(atrium.body.radii)
        knots = inflow_knots(
            add(atrium.body.centre, valve.up, 0.8 * atrium.body.radii[0]), atrium.body.centre, wide, valve
        )
        # along the crescent towards the apex
        low = (body.centre[0] - 0.75 * body.radii[0], 0.0, _middle_c(heart))
        end = mix(tips_middle(valve), low, 0.9)
        out.append(filling(knots, end, flow.tricuspid, 0.6 * body.radii[2], (*RIGHT_ATRIAL, *RIGHT_VENTRICULAR)))
    if flow.pulmonic and seen((*RIGHT_VENTRICULAR, *PULMONARY)):
        tract = _outflow_knots(heart, circulation)
        out.append(through(tract, flow.pulmonic, (*RIGHT_VENTRICULAR, Tissue.PULMONARY_TRUNK)))
        for rods in (heart.pulmonary.right, (heart.pulmonary.left,)):
            trunk = heart.pulmonary.trunk
            fork = Knot(at=rods[0].start, radius_mm=rods[0].start_mm)
            before = Knot(at=mix(trunk.end, trunk.start, 0.4), radius_mm=trunk.end_mm)
            way = (before, fork, *(Knot(at=rod.end, radius_mm=rod.end_mm) for rod in rods))
            out.append(through(way, 0.5 * flow.pulmonic, PULMONARY[1:]))
    if flow.venae_cavae and seen((Tissue.CRANIAL_VENA_CAVA, Tissue.CAUDAL_VENA_CAVA, *RIGHT_ATRIAL)):
        shares = (_CRANIAL_SHARE, 1.0 - _CRANIAL_SHARE)
        veins = (atrium.cranial_vein, atrium.caudal_vein)
        tissues = (Tissue.CRANIAL_VENA_CAVA, Tissue.CAUDAL_VENA_CAVA)
        for share, vein, tissue in zip(shares, veins, tissues, strict=True):
            knots = (
                Knot(at=vein.end, radius_mm=vein.end_mm),
                Knot(at=vein.start, radius_mm=vein.start_mm),
                Knot(
                    at=mix(vein.start, atrium.body.centre, 0.9), radius_mm=1.6 * vein.start_mm, share=0.2, rounded=1.0
                ),
            )
            out.append(through(knots, share * flow.venae_cavae, (tissue, *RIGHT_ATRIAL)))
    return out


def _middle_c(heart: Layout) -> float:
    """Return the depth of the middle of the crescent, between septum and free wall."""
    body = heart.rv.body
    return 0.5 * (-heart.lv.septal_surface_mm + body.centre[2] - body.radii[2])


def _outflow_knots(heart: Layout, circulation: Circulation) -> tuple[Knot, ...]:
    """Return the way out; behind a narrow valve most of the flow is in its jet."""
    beside = 1.0 if circulation.pulmonic is None else BESIDE_JET
    body, root, trunk = heart.rv.body, heart.pulmonary.root, heart.pulmonary.trunk
    low, high = heart.rv.conus
    ring = circulation.openings.pulmonic * root.radius_at(0.0)
    start = (body.centre[0] - 0.4 * body.radii[0], 0.15 * heart.unit_mm, _middle_c(heart))
    return (
        Knot(at=start, radius_mm=0.55 * body.radii[2], share=0.0, rounded=1.0),
        Knot(at=low.start, radius_mm=0.95 * low.start_mm, share=0.9, rounded=0.5),
        Knot(at=high.start, radius_mm=0.95 * high.start_mm),
        Knot(at=add(root.centre, root.axis, -0.02 * heart.unit_mm), radius_mm=ring),
        Knot(at=add(root.centre, root.axis, 0.6 * root.length_mm), radius_mm=ring, share=beside),
        Knot(at=mix(root.centre, trunk.end, 0.75), radius_mm=trunk.end_mm, share=0.5 * (1.0 + beside)),
        Knot(at=trunk.end, radius_mm=trunk.end_mm),
    )


def right_jets(heart: Layout, circulation: Circulation, flow: FlowNow) -> list[Jet]:
    """Return the jets of the right heart: the tricuspid leak, and what a narrow pulmonic valve makes."""
    out = []
    valve, root = heart.rv.tricuspid, heart.pulmonary.root
    if circulation.tricuspid_leak is not None and flow.tricuspid_jet > 0.0:
        out.append(
            Jet(
                origin=add(valve.at(valve.shut[2]), valve.up, 0.05 * valve.radius_mm),
                direction=leaning(valve.up, valve.across, valve.along, circulation.tricuspid_leak.lean),
                orifice_mm2=flow.tricuspid_leak_mm2,
                speed_mm_s=flow.tricuspid_jet,
                before=RIGHT_VENTRICULAR,
                behind=RIGHT_ATRIAL,
            )
        )
    if circulation.pulmonic is not None and flow.pulmonic > 0.0:
        out.append(
            Jet(
                origin=_between_cusps(heart),
                direction=leaning(root.axis, root.first_cusp, root.second, circulation.pulmonic.lean),
                orifice_mm2=flow.pulmonic_mm2,
                speed_mm_s=flow.pulmonic / flow.pulmonic_mm2,
                before=(),
                behind=PULMONARY,
            )
        )
    return out


def _between_cusps(heart: Layout) -> Triple:
    root = heart.pulmonary.root
    return add(root.centre, root.axis, 0.35 * root.length_mm)
