"""What of a question to go in is no word of it: people who are in, what is told before it, or beside it."""

from itertools import takewhile

from bot.language.meanings import Meanings
from bot.reading.text.spans import Span
from bot.reading.told_clause import ASKED_FOR, CALLING, GOING, INSPECTING, LEAVE, PEOPLE, ToldClause, was_read

NEVER_WITH_ENTRY = frozenset(("help", "stop", "close"))
BEING = frozenset(("link", "open", "exist"))
ADVERSE = frozenset(
    ("dropping", "lying", "going_off", "coming_in", "rising", "opened", "opened_up", "flaw", "moving",
     "collapsed", "leaking", "unheld", "lost_some", "bent", "not_done", "falling_bits", "lacking")
)  # fmt: skip


class AskedClause(ToldClause):
    """A clause that may ask for leave to go in."""

    def _order(self, at: int) -> bool:
        """ "inspected, clear the lot", "why are they going in": what is no verdict and no question, whatever
        else it was read as."""
        tags = self.pieces[at].tags
        if "why" in self.belong and "enter" in tags:
            return True  # "why are they going in with no ladder" asks for no working
        return self.inspects and "verdict" in tags and tags.isdisjoint(INSPECTING) and not self._verdict(at)

    def _inside(self, at: int) -> bool:
        """ "can i go in and get him", "the lads are in": one who is spoken of after the going in, or said to
        be or go in where nobody asks for leave, may be in already. Nor is it a question what is said of
        anything there: "can we go in, the meter is off"."""
        piece = self.pieces[at]
        earlier = self.pieces[:at]
        told_in = piece in self.enters and (self.aside_of_question or self._of_others())
        told_in = told_in and self.belong.isdisjoint(INSPECTING)
        if told_in and not self._led(at):
            return not self._aside(piece)
        before = earlier[-1] if earlier else piece
        meant = before.text in self.language.fillers and "now" not in before.tags  # "get the lad"
        if "entry" not in self.belong or (self._addressed(at) and not meant):
            return False
        being = self.language.meanings(piece.text.split(" ")[0])
        person = piece.text in self.crew or not PEOPLE.isdisjoint(piece.tags)
        said = (
            self.asks_leave
            and not person
            and not (piece.text in self.language.before_places and self._ref_follows(at))
            and not self._aside(piece)
            and not BEING.isdisjoint(being)
            and {"now", "ask"}.isdisjoint(being)
        )
        person = person and not self._goes_first(at)
        return (person or said) and any(not GOING.isdisjoint(one.tags) for one in earlier)

    def _before_leave(self, at: int) -> bool:
        """ "level is dropping can we go in", "plumber in the bottom, ok to start": what is told of a thing, a
        place or the going in before anybody asks for leave is no word of the question."""
        if not self.asks_leave or "entry" not in self.belong or at >= self.lead or was_read(self.pieces[at]):
            return False
        piece = self.pieces[at]
        if self._slight(piece) and (BEING.isdisjoint(piece.tags) or "and" in piece.tags):
            return False
        if self._aside(piece) or piece.text in self.own or piece.text in self.crew or self._like_a_name(at):
            return False
        being = not BEING.isdisjoint(piece.tags) and "and" not in piece.tags
        if being and piece.text not in self.language.before_places:
            return at > 0 and not self._leads(at)  # "is it", "we are | ready to"
        thing = piece.tags.thing and PEOPLE.isdisjoint(piece.tags)
        placed = piece.text in self.language.places or not GOING.isdisjoint(piece.tags)
        adverse = not ADVERSE.isdisjoint(piece.tags)
        return thing or placed or adverse or "deny" in piece.tags

    def _leads(self, at: int) -> bool:
        """Whether what comes next asks: "we are | ready to go in"."""
        after = next((one for one in self.pieces[at + 1 :] if not self._article(one)), None)
        if after is None or after.kind in ("mark", "ref"):
            return True
        waits = not after.tags and self._companion(after.text)  # "lads are asking, waiting"
        return waits or bool((CALLING | ASKED_FOR) & after.tags)

    def _in_already(self, at: int) -> bool:
        """ "we are down there already, can we start": where somebody is, and no going there that is asked."""
        piece = self.pieces[at]
        if "entry" not in self.belong | self.beside or self.reports:
            return False
        earlier = self.pieces[:at]
        if any(not ASKED_FOR.isdisjoint(one.tags) for one in earlier):
            return False
        skipped = any(not BEING.isdisjoint(self.language.meanings(word)) for word in piece.inside)
        if skipped and any(piece.text.endswith(f" {where}") for where in self.language.within):
            return True  # "men are down", where "men down" would ask
        if piece.text not in self.language.within:
            return False
        return "enter_alone" in piece.tags or any(not one.tags.isdisjoint(BEING | PEOPLE) for one in earlier)

    def _named_one(self, at: int) -> bool:
        """ "can Bobby get in", "for me and Sean to go down": a name that nobody told us, of one who would go
        in. It is written as one, beside the word for leave, the going in, people or another name."""
        if not self._like_a_name(at):
            return False
        if self._goes_first(at):
            return True  # "para que entre Nando"
        if not any(self._goes(one) for one in self.pieces[at + 1 :]):
            return False
        near = (*self.pieces[max(at - 1, 0) : at], *self.pieces[at + 1 : at + 2])
        led = any(not (PEOPLE | {"leave", "ask"}).isdisjoint(one.tags) or self._goes(one) for one in near)
        return (led and at > 0) or self._beside_person(at)

    def _of_others(self) -> bool:
        """Whether it is somebody else who is said to go in: "lads are in"; "going in now" is the sender."""
        words = {word for piece in self.enters for word in piece.text.split()} - self.language.first_person
        return any(not PEOPLE.isdisjoint(self.language.meanings(word)) for word in words)

    def _led(self, at: int) -> bool:
        """Whether leave is asked for the going in that is spoken of here: "can the lads | go in", and no "can
        we go in, the lads | are down there"."""
        words = [self.language.meanings(word) for word in self.pieces[at].text.split()]
        earlier, after = self.pieces[:at], self.pieces[at + 1 :]
        person = any(not PEOPLE.isdisjoint(tags) for tags in words)
        if person and any("enter" in one.tags for one in earlier) and not self._goes_first(at):
            return False
        asked = any(not LEAVE.isdisjoint(one.tags) or "purpose.entry" in one.tags for one in earlier)
        goes = any("enter" in one.tags for one in after)
        before_going = takewhile(lambda one: "enter" not in one.tags, after)
        wanted = goes and any(not ASKED_FOR.isdisjoint(one.tags) for one in before_going)
        within = any(not (LEAVE - BEING).isdisjoint(tags) for tags in words)  # not "lads are in"
        return asked or wanted or within

    def _goes_first(self, at: int) -> bool:
        """ "podem entrar dois homens": who would go in stands right after it, and nothing is said of them."""
        earlier = (one for one in reversed(self.pieces[:at]) if one.figure is None)
        articles = self.language.fillers - self.language.before_places
        before = next((one for one in earlier if one.text not in articles), None)
        rest = self.pieces[at + 1 :]
        plain = all(
            one.kind in ("ref", "mark") or self._slight(one) or one.text in self.language.before_places
            for one in rest
        )
        to_them = (
            before is not None and before.text.split()[-1] in self.language.before_places
        )  # "bajar al chico"
        return (
            self.language.verb_first and before is not None and self._goes(before) and plain and not to_them
        )

    def _unheard(self, piece: Span) -> bool:
        """ "can we go in at 20 bar": a pressure that is no reading, of which nobody would hear again."""
        pressure = piece.figure is not None and piece.figure.kind == "pressure"
        return pressure and "entry" in self.belong and piece.state != ""

    def _asked_too(self, tags: Meanings) -> bool:
        """What else is asked for; but who asks to go in to help somebody asks for no help of ours."""
        return bool({*tags.purposes} - NEVER_WITH_ENTRY if "entry" in self.belong else tags.purposes)

    def _lasts(self, piece: Span) -> bool:
        """ "for 5 mins": how long one would be in, of who asks to go in."""
        return piece.figure is not None and self._companion(
            piece.raw.lower().split()[-1].lstrip("0123456789")
        )
