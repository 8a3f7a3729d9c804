"""The working day of a site: its shift, and the time between shifts, as spans with a begin and an end."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo


@dataclass(frozen=True, slots=True)
class Shift:
    """A site's shift in its local time. What falls between two shifts is a span of its own, so that overtime
    and night work need their own inspection too."""

    start: time
    end: time
    zone: tzinfo = UTC

    def begin(self, now: datetime) -> datetime:
        """When the span that holds `now` began, UTC."""
        return max(edge for edge in self._edges(now) if edge <= now)

    def close(self, now: datetime) -> datetime:
        """When the span that holds `now` ends, UTC."""
        return min(edge for edge in self._edges(now) if edge > now)

    def on(self, now: datetime) -> bool:
        """Whether the shift is on; a shift that ends before it starts runs over midnight."""
        local = now.astimezone(self.zone).time()
        if self.start < self.end:
            return self.start <= local < self.end
        return local >= self.start or local < self.end

    def clock(self, when: datetime, now: datetime) -> str:
        """A time as the site reads it: "09:40", with the date where it is another day than `now`."""
        local = when.astimezone(self.zone)
        today = local.date() == now.astimezone(self.zone).date()
        return f"{local:%H:%M}" if today else f"{local:%d/%m %H:%M}"

    def _edges(self, now: datetime) -> list[datetime]:
        day = now.astimezone(self.zone).date()
        return [
            datetime.combine(day + timedelta(days=ahead), edge, self.zone).astimezone(UTC)
            for ahead in (-1, 0, 1)
            for edge in (self.start, self.end)
        ]
