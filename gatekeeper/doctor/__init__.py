"""What is wrong with an installation, and how to mend it. It looks only; it changes nothing."""

from gatekeeper.doctor.examination import examine
from gatekeeper.doctor.interface import Answer, Circumstances, State

__all__ = ["Answer", "Circumstances", "State", "examine"]
