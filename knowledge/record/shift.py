"""The working day of a site: its shift, and the time between shifts, as spans with a begin and an end."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class Shift:
    """A site's shift in its local time. What falls between two shifts is a span of its own, so that overtime
    and night work need their own inspection too."""

    start: time
    end: time
    zone: tzinfo = UTC
    work_days: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)  # from Monday
    days_off: tuple[date, ...] = ()

    def begin(self, now: datetime) -> datetime:
        """When the span that holds `now` began, UTC."""
        return _span(self, now)[0]

    def close(self, now: datetime) -> datetime:
        """When the span that holds `now` ends, UTC."""
        return _span(self, now)[1]

    def on(self, now: datetime) -> bool:
        """Whether the shift is on; one that ends before it starts runs over midnight. On a day off none is,
        though its hours part the days as ever: what was told on Saturday is not fresh on Sunday."""
        local = now.astimezone(self.zone)
        if self.start < self.end:
            return self.start <= local.time() < self.end and self._works(local.date())
        if local.time() >= self.start:
            return self._works(local.date())
        return local.time() < self.end and self._works(local.date() - timedelta(days=1))

    def _works(self, day: date) -> bool:
        return day.weekday() in self.work_days and day not in self.days_off

    def awake(self, at: datetime) -> datetime:
        """`at`, or when the hours of the shift next begin where it lies outside them, on whatever day."""
        local = at.astimezone(self.zone).time()
        inside = (
            self.start <= local < self.end
            if self.start < self.end
            else local >= self.start or local < self.end
        )
        return at if inside else self.close(at)

    def clock(self, when: datetime, now: datetime) -> str:
        """A time as the site reads it: "09:40", with the date where it is another day than `now`."""
        local = when.astimezone(self.zone)
        today = local.date() == now.astimezone(self.zone).date()
        return f"{local:%H:%M}" if today else f"{local:%d/%m %H:%M}"


@lru_cache(maxsize=256)
def _span(shift: Shift, now: datetime) -> tuple[datetime, datetime]:
    """When the span that holds `now` begins and ends: every fact of a trench is held against the same one."""
    day = now.astimezone(shift.zone).date()
    edges = [
        datetime.combine(day + timedelta(days=ahead), edge, shift.zone).astimezone(UTC)
        for ahead in (-1, 0, 1)
        for edge in (shift.start, shift.end)
    ]
    return max(edge for edge in edges if edge <= now), min(edge for edge in edges if edge > now)
