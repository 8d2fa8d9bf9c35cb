"""Garments for the page before anything is on them: what kinds there are, and each drawn with its places."""

from __future__ import annotations

from typing import Any

from impose.page.face_views import capitalise_words, find_face_view, list_box_values, title_face
from impose.pages.proof.garment_drawings import draw_cloth
from impose.pages.proof.markup import format_number, make_element
from impose.pages.tickets.garment_outlines import list_other_faces
from impose.profiles.profiles import Profiles
from impose.run.garment_places import GarmentFace, GarmentPlace, list_faces
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options


def list_garment_words(options: Options) -> dict[str, Any]:
    """Kinds, groups and sizes to choose from."""
    wardrobe = load_profiles_in_force(options).wardrobe
    kinds = [
        {"name": kind.name, "title": capitalise_words(kind.title), "sizes": list(kind.sizes)}
        for kind in wardrobe.kinds.values()
    ]
    groups = [
        {"name": group.name, "title": capitalise_words(group.title), "sizes": list(group.sizes)}
        for group in wardrobe.groups.values()
    ]
    return {
        "kinds": kinds,
        "groups": groups,
        "default": {"kind": wardrobe.default_kind, "group": wardrobe.default_group},
    }


def draw_garment(options: Options, text: str) -> dict[str, Any]:
    """A garment by its words: its faces, and on each its places."""
    profiles = load_profiles_in_force(options)
    reading = profiles.wardrobe.read_garment(text)
    garment = reading.garment
    words = text.strip() or f"{garment.group} {garment.kind}"
    return {
        "garment": text,
        "title": capitalise_words(words),
        "kind": garment.kind,
        "group": garment.group,
        "size": garment.size,
        "fault": f"{capitalise_words(reading.fault)}." if reading.fault else "",
        "unknown": list(reading.unknown),
        "faces": [_describe_face(face, profiles) for face in list_faces(garment, profiles)],
    }


def _describe_face(face: GarmentFace, profiles: Profiles) -> dict[str, Any]:
    view = find_face_view(face.shape)
    drawing = make_element(
        "svg",
        list(draw_cloth(face.shape)),
        viewBox=" ".join(format_number(value) for value in view),
        class_="garment",
        aria_hidden="true",
        focusable="false",
    )
    places = [_describe_place(place) for place in face.places]
    seen = [{"face": name, "points": points} for name, points in list_other_faces(face.shape)]
    return {
        "face": face.face, "title": title_face(face.face), "view": list(view), "svg": str(drawing), "places": places,
        "seen": seen,
    }  # fmt: skip


def _describe_place(place: GarmentPlace) -> dict[str, Any]:
    return {
        "placement": place.placement.name,
        "title": capitalise_words(place.placement.title),
        "box": list_box_values(place.spot.box),
        "turned": place.spot.turned,
        "size": place.size,
        "offset": place.offset,
        "why": place.why,
        "own": place.own,
        "known": place.known,
    }
