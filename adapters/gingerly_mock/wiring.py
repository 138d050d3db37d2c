"""The test circuit: tool, touch plate or stock, and the test lead, with all that can keep it open or closed."""

from __future__ import annotations

from gingerly.geometry import Position


class Wiring:
    """What the circuit is made of just now.

    `lead_on`: the test lead is clipped on at both ends. `bridged`: somebody holds plate and tool together.
    `anodised`: the face does not conduct. `chip_at` is where the tool stood when a chip closed the gap; it falls
    off `chip_reach` mm from there (0: never). Noise and bounce are bounded by virtual times in seconds;
    `flaky` keeps a contact open until the next motion.
    """

    __slots__ = (
        "anodised",
        "bounce_from",
        "bounce_until",
        "bridged",
        "chip_at",
        "chip_reach",
        "flaky",
        "lead_on",
        "noise_until",
    )

    def __init__(self) -> None:
        self.anodised = False
        self.connect()

    def connect(self) -> None:
        """Clip the test lead on, with a clean gap and nobody's hands near."""
        self.lead_on = True
        self.bridged = False
        self.chip_at: Position | None = None
        self.chip_reach = 0.0
        self.noise_until = self.bounce_from = self.bounce_until = 0.0
        self.flaky = False

    @property
    def live(self) -> bool:
        """Whether a touch closes the circuit."""
        return self.lead_on and not self.anodised

    def forced(self, now: float, position: Position) -> bool:
        """Return whether something other than a touch closes the circuit."""
        if now < self.noise_until:
            return True
        if not self.lead_on:
            return False
        if self.chip_at is not None:
            if self.chip_reach and position.distance(self.chip_at) >= self.chip_reach:
                self.chip_at = None
            else:
                return True
        return self.bridged and not self.anodised

    def closed(self, now: float, position: Position, touching: bool) -> bool:
        """Return whether the circuit is closed, the tool touching conducting metal or not."""
        if (self.noise_until or self.chip_at is not None or self.bridged) and self.forced(now, position):
            return True
        if not touching or not self.lead_on or self.anodised or self.flaky:
            return False
        return not self.bounce_from <= now < self.bounce_until
