"""Two models of the same truck made one, the sets of faults of one after those of the other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fanwright.diagnosis.compiled import Link, Model, Part
from fanwright.diagnosis.sets import joined


def joined_models(one: Model, other: Model) -> Model:
    """Put the sets of two models of the same truck one after the other."""
    parts = tuple(
        Part(
            np.vstack((a.root, b.root)),
            tuple(replace(x, own=np.vstack((x.own, y.own))) for x, y in zip(a.below, b.below, strict=True)),
        )
        for a, b in zip(one.parts, other.parts, strict=True)
    )
    return Model(
        joined(one.sets, other.sets),
        parts,
        {test: _joined_links(link, other.links[test]) for test, link in one.links.items()},
        one.asked,
        None
        if one.noticed is None or other.noticed is None
        else np.concatenate((one.noticed, other.noticed)),
    )


def _joined_links(one: Link, other: Link) -> Link:
    if one.rest is None or other.rest is None or one.shown is None or other.shown is None:
        return one
    return replace(
        one, rest=np.concatenate((one.rest, other.rest)), shown=np.vstack((one.shown, other.shown))
    )
