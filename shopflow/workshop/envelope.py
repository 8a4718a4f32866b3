"""A tap's envelope, for the pages of the workshop; it is read in people, below every app that takes taps."""

from __future__ import annotations

from shopflow.people.envelope import BadEnvelope, Envelope, read_envelope

__all__ = ["BadEnvelope", "Envelope", "read_envelope"]
