"""Trenches on record from before a reference had one form: each gets the name under which texts now find it.

It is done by exchanges on the log, as a crew's own "T07 is T7" is, since the log covers what records came to.
"""

import json
import logging
from datetime import datetime

from bot.language.tokens import one_form
from bot.message import Message, Reply, Site, Thread, Turn, event_name
from bot.storage.records import Records
from bot.storage.sealed import sealed
from bot.storage.turns import Store
from knowledge.outcome import Told
from knowledge.reading import Reading
from knowledge.record.trench import Event, Trench, merged, renamed, told
from knowledge.tables.load import Tables

BY = "upgrade"
log = logging.getLogger("trenchword.log")


def give_one_name(store: Store, tables: Tables, now: datetime) -> int:
    """Bring every reference to its one form. Returns how many records that was. Inside a transaction.

    Where a record has that name already the two become one as by MERGE: what stands against either stands,
    and it is inspected anew. Where they cannot, the old one gets a free name, and the other is held open.
    """
    records = Records(store.db, tables)
    rows = store.db.execute("SELECT site, ref FROM trenches ORDER BY site, ref").fetchall()
    found = [(site, ref) for site, ref in rows if one_form(ref) != ref]
    done = sum(_give(store, records, tables, site, ref, now) for site, ref in found)
    if done:
        _rename_in_threads(store)
    return done


def _give(store: Store, records: Records, tables: Tables, site: str, ref: str, now: datetime) -> bool:
    old, name = records.find(site, ref), one_form(ref)
    other = records.find(site, name)
    if old is None or (old.closed and other is not None):
        return False
    done = Reading(purpose="close")
    gone = () if old.closed else (told(old, _event(old, now, done), tables),)
    if other is None:
        made: tuple[Trench, ...] = (renamed(old, name),)
    else:
        try:
            made = (merged(other, old, tables),)
        except ValueError:  # another kit or rulebook: nobody can say which of the two counts
            name = records.next_ref(site)
            words = f"{ref} was another trench on record: it is {name} now"
            held = _event(other, now, Reading(left_over=(words,)), words=words, open_text=True)
            made = (renamed(old, name), told(other, held, tables))
    _write(store, records, old, name, (*gone, *made), now)
    log.warning("trench %s of %s is %s from now on", ref, site, name)
    return True


def _event(
    trench: Trench, now: datetime, reading: Reading, words: str = "", open_text: bool = False
) -> Event:
    id_ = event_name(BY, BY, f"{trench.site}/{trench.ref}")
    return Event(id_, now, BY, BY, "supervisor", reading, words=words, open_text=open_text)


def _write(
    store: Store, records: Records, old: Trench, name: str, changed: tuple[Trench, ...], now: datetime
) -> None:
    text = f"{old.ref} is {name}"
    message = Message(
        id=f"{old.site}/{old.ref}", channel=BY, sender=BY, text=text, sent_at=now, received_at=now
    )
    turn = Turn(
        message=message,
        reading=Reading(),
        outcome=Told(about="status", trench=name, lines=(text,)),
        reply=Reply(to=BY, text=text),
        trench=name,
    )
    written = [records.written(trench) for trench in changed]
    seals = [sealed(t.site, t.ref, t.closed, each.seal) for t, each in zip(changed, written, strict=True)]
    site = Site(name=old.site, rulebook=old.rulebook)
    row = json.dumps(seals, ensure_ascii=False, separators=(",", ":"))
    answered = store.put(turn, None, site, now, 0, row)
    for trench, each in zip(changed, written, strict=True):
        records.put(trench, answered.exchange, each)


def _rename_in_threads(store: Store) -> None:
    """So that "ladder in" of somebody who last spoke of T07 is said of T7."""
    for sender, state in store.db.execute("SELECT sender, state FROM threads").fetchall():
        thread = Thread.model_validate_json(state)
        named = thread.model_copy(
            update={
                "trench": thread.trench and one_form(thread.trench),
                "code_trench": thread.code_trench and one_form(thread.code_trench),
                "proposals": tuple(
                    each.model_copy(update={"trench": one_form(each.trench)}) for each in thread.proposals
                ),
                "opening": thread.opening
                and thread.opening.model_copy(
                    update={"trench": thread.opening.trench and one_form(thread.opening.trench)}
                ),
            }
        )
        if named != thread:
            store.db.execute(
                "UPDATE threads SET state = ? WHERE sender = ?", (named.model_dump_json(), sender)
            )
