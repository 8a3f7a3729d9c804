"""Words that may belong to a report and yet speak against it: of a part, of elsewhere, on another's word."""

import itertools

from bot.reading.asked_clause import AskedClause
from bot.reading.text.spans import Span
from bot.reading.told_clause import INSPECTING, PEOPLE, was_read

LOOKED_AT = frozenset(("ladder", "end_t", "spoil_t", "unit_t", "support_t", "gauge_t"))
THROUGHOUT = frozenset(("dry", "water_t", "air_t", "air_tested", "inspected", "inspection", "dug"))
TESTED = frozenset(("air_t", "air_tested"))
METER = frozenset(("air_t",))
BESIDE = frozenset(("close_to", "edge_t"))
DUG_PLACES = frozenset(("side", "trench", "dug", "edge_t"))
ROWS = frozenset(("top", "bottom"))
ENDS_HELD = frozenset(("supported", "ends_supported"))
HOLDING = frozenset(("support_t", "unit_t", "people"))


class AgainstClause(AskedClause):
    """A clause whose words may speak against what it reports."""

    def _gives_way(self, at: int) -> bool:
        """ "dry, walls down", "set, one off": that something is down, off or out, of a thing and no doing.
        What is tied off or marked out is done, and what is down to the bottom reaches it."""
        language, piece = self.language, self.pieces[at]
        if piece.text not in language.losses or was_read(piece) or not (self.belong | self.beside):
            return False
        if self.asks_leave and not piece.tags.isdisjoint(("inwards", "lacking")):
            return False  # "can i send two down", "anything left"
        before = next((one for one in reversed(self.pieces[:at]) if not self._article(one)), None)
        if before is None or before.kind != "word" or before.text in language.manners:
            return False
        if was_read(before) and not before.tags.thing:
            return False
        after = self.pieces[at + 1] if at + 1 < len(self.pieces) else None
        ends = after is None or after.kind == "mark" or after.text in language.losses
        ends = ends or ("unit_t" in self.belong | self.beside and after is not None and after.figure is None)
        ends = ends or not {"and", "in", "at"}.isdisjoint(after.tags if after else ())
        return ends and not before.text.endswith(language.participles or " ")

    def _of_a_part(self, at: int) -> bool:
        """ "no water above the boards", "dug to 1.6 below the rail": where only some of it is so."""
        piece = self.pieces[at]
        near = self.belong | self.beside
        return piece.text in self.language.beyond and not was_read(piece) and not THROUGHOUT.isdisjoint(near)

    def _ladder_at_edge(self, at: int) -> bool:
        """ "ladder stood by the edge": it is in the trench where it is told how far it stands over it."""
        piece = self.pieces[at]
        if "ladder" not in self.belong | self.beside or self._measured or was_read(piece):
            return False
        placed = piece.text in self.language.before_places and "measured_from" not in piece.tags
        return not BESIDE.isdisjoint(piece.tags) or (placed and self._edge_follows(at))

    def _spaced(self, piece: Span) -> bool:
        """ "all set 2 m apart": a spacing told is compared with none."""
        near = self.belong | self.beside
        spaced = self.shores and "unit_t" in near and "spoil_t" not in near and not (self.dug or piece.dug)
        return spaced and piece.figure is not None and piece.figure.kind == "length"

    def _some_of(self, at: int) -> bool:
        """ "40 bar on the good ones": of some units, told by what they are."""
        if at < 2 or not self.shores or "unit_t" not in self.pieces[at].tags:
            return False
        article, quality = self.pieces[at - 2 : at]
        such = (
            quality.text in self.language.manners - self.language.fillers and "throughout" not in quality.tags
        )
        return such and article.kind == "word" and "all" not in article.tags and self._article(article)

    def _of_meter(self, piece: Span) -> bool:
        """ "gas meter ok": of the meter, not of the air. "Monitor reads clear", "monitor been down" are."""
        if "meters" not in piece.tags or not was_read(piece) or not self.by_air:
            return False
        return not any(
            "inwards" in one.tags
            or ("air_result" in one.tags and " " in one.text)
            or (
                one is not piece
                and was_read(one)
                and (one.figure is not None or not TESTED.isdisjoint(one.tags - METER))
            )
            for one in self.pieces
        )

    def _from_elsewhere(self, at: int) -> bool:
        """ "spoil 2 m from the road", "along the edge", "towards the trench": how far from what is no edge,
        right at it, or nearer."""
        piece = self.pieces[at]
        if "spoil_t" in self.belong and (
            self._to_trench(at) or piece.text in self.language.vocabulary.toward
        ):
            return True
        if "spoil_t" not in self.belong or was_read(piece) or piece.text not in self.language.before_places:
            return False
        after = next(
            (one for one in self.pieces[at + 1 :] if not self._slight(one) or one.kind == "ref"), None
        )
        if after is None or after.kind in ("mark", "figure"):
            return False
        edge = after.kind == "ref" or any(word in self.language.edges for word in after.text.split())
        if "measured_from" in piece.tags:
            return not edge
        moved = any("moved_back" in one.tags for one in self.pieces)
        figure = at and self.pieces[at - 1].figure is not None and "range" in piece.tags  # "2 m to the edge"
        near = edge or not {"trench", "side"}.isdisjoint(after.tags)
        return near and after.kind != "ref" and not (figure and not moved) and "of" not in piece.tags

    def _to_trench(self, at: int) -> bool:
        """ "1.5 m out over the trench": the next thing is the trench, and it is not measured from there."""
        piece = self.pieces[at]
        if piece.text not in self.language.before_places or not {"measured_from", "of"}.isdisjoint(
            piece.tags
        ):
            return False
        after = next((one for one in self.pieces[at + 1 :] if not self._article(one)), None)
        return not was_read(piece) and after is not None and "trench" in after.tags

    def _meant_for(self, at: int) -> bool:
        """ "no water left for the lads": it is for drinking."""
        return (
            "meant_for" in self.pieces[at].tags and "water_t" in self.belong and not was_read(self.pieces[at])
        )

    def _for_water(self, at: int) -> bool:
        """ "can't see the bottom for water", "no bottom of the water": what is denied is the place, and the
        water is why."""
        piece = self.pieces[at]
        if piece.state != "denied" or {"water_t", "wet"}.isdisjoint(piece.tags):
            return False
        if at > 0 and self.pieces[at - 1].text in self.language.vocabulary.because_of:
            return True
        denied = max((i for i, one in enumerate(self.pieces[:at]) if "deny" in one.tags), default=at)
        places = self.language.before_places
        led = [one for one in self.pieces[denied:at] if one.text in places or not self._article(one)]
        return any(
            not DUG_PLACES.isdisjoint(one.tags) and before.text not in places
            for before, one in itertools.pairwise(led)
        )

    def _by_nobody(self, at: int) -> bool:
        """ "ladder in, nobody shifts the digger": an order, or a condition, and no word of what moves."""
        denied = {"deny", "people"} <= set(self.pieces[at].tags)
        after = self._next(at, 1)
        return denied and self._tells and after is not None and after.told and after.state == "denied"

    def _back_to(self, at: int) -> bool:
        """ "spoil bk 2 the edge": a two that stands for "to", and no length."""
        figure, after = self.pieces[at].figure, self.pieces[at + 1 : at + 2]
        if figure is None or not self.pieces[at].raw.isdigit() or "spoil_t" not in self.belong or not after:
            return False
        article = after[0].text in self.language.fillers and after[0].text not in self.language.before_places
        place = not {"side", "edge_t", "trench"}.isdisjoint(after[0].tags)
        person = after[0].text in self.language.first_person
        return (article and {"link", "now"}.isdisjoint(after[0].tags)) or place or person

    def _held_by(self, at: int) -> bool:
        """ "ends supported by the ground", "by the digger": by what holds nothing."""
        if self.pieces[at].text not in self.language.vocabulary.held_by or ENDS_HELD.isdisjoint(self.belong):
            return False
        after = next((one for one in self.pieces[at + 1 :] if not self._article(one)), None)
        return after is not None and after.tags.thing and HOLDING.isdisjoint(after.tags)

    def _too_short(self, at: int) -> bool:
        """ "ladder in, sticks up half a metre": a ladder stands a metre above the edge (`entry.toml`)."""
        figure = self.pieces[at].figure
        if figure is None or figure.kind != "length" or "ladder" not in self.belong | self.beside or self.dug:
            return False
        told = any(one.told for one in self.pieces) or bool(self.means)
        told = told and not (self.shores or "spoil_t" in self.belong)
        return told and figure.metres < self.language.accepted.ladder_above_m

    def _hearsay(self, at: int) -> bool:
        """ "the lads inspected it", "inspected by Sol's lad", "ok from a photo": what makes an inspection
        somebody else's. Who is spoken to is none of it."""
        piece = self.pieces[at]
        if INSPECTING.isdisjoint(self.belong):
            return False
        if piece.text in self.own and piece.raw[-2:].lower() in ("'s", "’s"):
            return True
        if piece.text in self.language.sources:
            return not self._own_source(at)
        return not PEOPLE.isdisjoint(piece.tags) and self._others(at)

    def _back_in(self, at: int) -> bool:
        """ "the dirt has moved back in": no heap was moved away."""
        if not at or was_read(self.pieces[at]) or "spoil_t" not in self.belong:
            return False
        ends = at + 1 == len(self.pieces) or self.pieces[at + 1].kind == "mark"
        back = not {"moved_back", "back_only"}.isdisjoint(self.pieces[at - 1].tags)
        return ends and back and "inwards" in self.pieces[at].tags

    def _judged_by_others(self, at: int) -> bool:
        """ "lads call it safe", "they're calling it safe": a verdict with somebody else before it."""
        if "judges" not in self.pieces[at].tags or not at:
            return False
        before = self.pieces[at - 1]
        others = not PEOPLE.isdisjoint(before.tags) or before.text in self.language.manners
        return others and before.text not in self.language.first_person

    def _others(self, at: int) -> bool:
        led = at > 0 and self.pieces[at - 1].text in self.language.sources
        if self._addressed(at) and not led:
            return False
        return any(self._other(word) for word in self.pieces[at].text.split())

    def _own_source(self, at: int) -> bool:
        """ "by me", "by Sol" of Sol, "from end to end"."""
        after = next((one for one in self.pieces[at + 1 :] if not self._article(one)), None)
        if after is None:
            return False
        mine = after.text in self.own or after.text in self.language.first_person - {"my", "our"}
        there = after.kind == "ref" or after.figure is not None or "trench" in after.tags
        return mine or there or after.text.split()[0] in self.language.places or "throughout" in after.tags

    def _one_row(self, piece: Span) -> bool:
        """ "the upper ones at 40 bar", "battered at the bottom": of one row alone, though none was read."""
        words = [self.language.meanings(word) for word in piece.text.split()]
        one = bool(ROWS & piece.tags) or (self.ends and any(ROWS & tags for tags in words))
        return one and not all(self._named(row) for row in ROWS)

    def _no(self, at: int) -> bool:
        """ "no gauges at 40 bar" denies; "no 9 at 40 bar" is a number, "14 no. units" a count."""
        if at and self.pieces[at - 1].figure is not None and self.pieces[at].state == "":
            return False
        after = self.pieces[at + 1].figure if at + 1 < len(self.pieces) else None
        return "deny" in self.pieces[at].tags and (after is None or after.kind != "bare")

    def _part_only(self, at: int) -> bool:
        """ "ladder inspected and safe", "inspected the floor": one part, beside the word for looking."""
        piece = self.pieces[at]
        part = piece.text in self.language.places or not LOOKED_AT.isdisjoint(piece.tags)
        whole = {"trench", "all", "throughout"} & piece.tags
        said = was_read(piece) or self._slight(piece) or piece.kind != "word"
        if said or not part or whole or INSPECTING.isdisjoint(self.belong):
            return False
        others = [
            one
            for one in self.pieces
            if one is not piece and (one.text in self.language.places or not LOOKED_AT.isdisjoint(one.tags))
        ]
        near = [self._next(at, step) for step in (1, -1)]
        return not others and any(one is not None and not INSPECTING.isdisjoint(one.tags) for one in near)
