"""The boxes before the start: what was looked at, what differs from the plan, whether a box may go, and with what."""
