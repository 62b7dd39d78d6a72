"""Which phase each coil belongs to, by the star of slots, and what follows from it alone.

The electrical angle of slot s is p s 2 pi / Q. With t = gcd(Q, p) the star has Q/t distinct
spokes; six equal sectors (60-degree phase belts) take them in the order +1, -3, +2, -1, +3, -2.
The first sector starts on slot 0, so that slots 0 .. q-1 of an integral-slot winding are one belt
of phase 1, positive.
Method: star of slots, Pyrhonen, Jokinen, Hrabovcova, Design of Rotating Electrical Machines,
2nd ed., chapter 2 (from memory).
"""

from dataclasses import dataclass
from functools import cache
from math import gcd

from models.errors import InfeasibleDesignError, InvalidInputError

SlotPhases = tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]

# sector of 60 electrical degrees -> (phase, sign)
_BELTS = ((0, 1), (2, -1), (1, 1), (0, -1), (2, 1), (1, -1))


@dataclass(frozen=True)
class Coil:
    """One coil of a winding.

    Attributes
    ----------
    phase : int
        0, 1 or 2.
    sign : int
        +1 or -1: sense of its positive current.
    go, back : int
        Slots of its two sides; with sign +1 the current is along +z in `go`.
    """

    phase: int
    sign: int
    go: int
    back: int


def full_pitch_span(slots: int, poles: int, pitch_shortening: int = 0) -> int:
    """Return the coil span in slots: max(1, round(slots/poles) - pitch_shortening).

    A half is rounded down: the winding factor is the same and the end turns are shorter.
    """
    return max(1, (2 * slots + poles - 1) // (2 * poles) - pitch_shortening)


@cache
def coils(slots: int, pole_pairs: int, layers: int, coil_span: int) -> tuple[Coil, ...]:
    """Return the coils of a balanced three-phase winding.

    Parameters
    ----------
    slots, pole_pairs : int
        Q and p, positive.
    layers : int
        Coil sides per slot, 1 or 2.
    coil_span : int
        Slots between the two sides of a coil, 1 .. slots - 1.

    Returns
    -------
    tuple of Coil
        slots * layers / 2 coils.

    Raises
    ------
    InvalidInputError
        For numbers that describe no winding.
    InfeasibleDesignError
        `winding_unbalanced` when the three phases cannot be equal, `single_layer_pitch` when the
        coil span cannot be wound in one layer.
    """
    if slots < 3 or pole_pairs < 1 or layers not in (1, 2) or not 1 <= coil_span < slots:
        raise InvalidInputError(
            f"winding: {slots} slots, {pole_pairs} pole pairs, {layers} layers, coil span "
            f"{coil_span}; needs at least 3 slots, 1 pole pair, 1 or 2 layers and a span of 1 to "
            f"slots - 1"
        )
    if layers == 2:
        _require_balance(slots, pole_pairs, slots, layers)
        return tuple(
            Coil(*_belt(go, slots, pole_pairs), go, (go + coil_span) % slots) for go in range(slots)
        )
    if slots % (6 * pole_pairs) == 0:
        return _integral_single_layer(slots, pole_pairs, coil_span)
    # Coils go down in even slots and come back in odd ones; the star is that of the coils.
    if slots % 2 or coil_span % 2 == 0:
        raise InfeasibleDesignError(
            "single_layer_pitch",
            f"one layer in {slots} slots with coil span {coil_span}: a fractional-slot winding in "
            f"one layer needs an even number of slots and an odd coil span; use two layers or "
            f"change the span by one",
        )
    _require_balance(slots, pole_pairs, slots // 2, layers)
    return tuple(
        Coil(*_belt(k, slots // 2, pole_pairs), 2 * k, (2 * k + coil_span) % slots)
        for k in range(slots // 2)
    )


@cache
def layout(slots: int, pole_pairs: int, layers: int, coil_span: int) -> SlotPhases:
    """Return the signed share of each slot's conductors that carries each phase.

    Phase k+1 lags phase k by 120 electrical degrees in the direction of increasing slot number.
    `winding.phase_axis` gives where the axis of phase 1 lies.

    Parameters
    ----------
    slots, pole_pairs, layers, coil_span : int
        As for `coils`.

    Returns
    -------
    tuple of 3 tuples of float
        Entry [k][s] in [-1, 1]; |shares| of one slot sum to 1. Positive is current along +z.

    Raises
    ------
    InvalidInputError, InfeasibleDesignError
        As for `coils`.
    """
    table = [[0.0] * slots for _ in range(3)]
    for coil in coils(slots, pole_pairs, layers, coil_span):
        table[coil.phase][coil.go] += coil.sign / layers
        table[coil.phase][coil.back] -= coil.sign / layers
    # A slot that holds +1/2 and -1/2 of one phase would hide conductors that carry current.
    for s in range(slots):
        filled = sum(abs(row[s]) for row in table)
        if filled < 1.0 - 1e-9:
            raise InfeasibleDesignError(
                "coil_sides_cancel",
                f"{slots} slots, {2 * pole_pairs} poles, coil span {coil_span}: slot {s} would "
                f"hold opposite coil sides of one phase; change the coil span",
            )
    return (tuple(table[0]), tuple(table[1]), tuple(table[2]))


def possible_parallel_paths(
    slots: int, pole_pairs: int, layers: int, coil_span: int
) -> tuple[int, ...]:
    """Return the numbers of parallel paths with equal EMF in every path, ascending.

    Each path must take the same number of coils of every EMF angle in the phase (a reversed coil
    counts with its angle turned by 180 degrees), so the number of paths divides the greatest
    common divisor of these counts.
    """
    counts: dict[int, int] = {}
    for coil in coils(slots, pole_pairs, layers, coil_span):
        if coil.phase == 0:
            # twice the slot angle in units of 2 pi / (2 Q): half a turn is Q units
            angle = (2 * pole_pairs * coil.go + (slots if coil.sign < 0 else 0)) % (2 * slots)
            counts[angle] = counts.get(angle, 0) + 1
    most = 0
    for count in counts.values():
        most = gcd(most, count)
    return tuple(a for a in range(1, most + 1) if most % a == 0)


def require_parallel_paths(
    paths: int, slots: int, pole_pairs: int, layers: int, coil_span: int
) -> None:
    """Raise InfeasibleDesignError (`parallel_paths_impossible`) unless `paths` is possible."""
    allowed = possible_parallel_paths(slots, pole_pairs, layers, coil_span)
    if paths not in allowed:
        raise InfeasibleDesignError(
            "parallel_paths_impossible",
            f"{paths} parallel paths would not carry equal voltages in a winding of {slots} "
            f"slots, {2 * pole_pairs} poles, {layers} layer(s); possible: "
            f"{', '.join(map(str, allowed))}",
        )


def _belt(number: int, spokes: int, pole_pairs: int) -> tuple[int, int]:
    """Return (phase, sign) of spoke `number` of a star with so many vectors."""
    return _BELTS[6 * ((pole_pairs * number) % spokes) // spokes]


def _integral_single_layer(slots: int, pole_pairs: int, coil_span: int) -> tuple[Coil, ...]:
    pole = slots // (2 * pole_pairs)
    if coil_span != pole:
        raise InfeasibleDesignError(
            "single_layer_pitch",
            f"one layer, {slots} slots, {2 * pole_pairs} poles: the mean coil span is a full "
            f"pole pitch of {pole} slots, {coil_span} was asked; use two layers to shorten it",
        )
    found = []
    for go in range(slots):
        phase, sign = _belt(go, slots, pole_pairs)
        if sign > 0:
            found.append(Coil(phase, sign, go, (go + pole) % slots))
    return tuple(found)


def _require_balance(slots: int, pole_pairs: int, vectors: int, layers: int) -> None:
    """Three equal phases need the star's distinct spokes to be a multiple of three."""
    if vectors % (3 * gcd(vectors, pole_pairs)) == 0:
        return
    step = 1 if layers == 2 else 2
    near = sorted(
        (abs(q - slots), q)
        for q in range(3, 3 * slots + 3 * pole_pairs)
        if q % step == 0 and (q // step) % (3 * gcd(q // step, pole_pairs)) == 0
    )
    hint = " or ".join(str(q) for _, q in near[:2])
    raise InfeasibleDesignError(
        "winding_unbalanced",
        f"{slots} slots with {2 * pole_pairs} poles in {layers} layer(s) give no three equal "
        f"phases; the nearest balanced numbers of slots are {hint}",
    )
