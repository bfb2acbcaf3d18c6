"""One truck, one day."""

from fanwright.visit.assessing import assess
from fanwright.visit.model import Assessment, NotJudged, Past, Visit, Work
from fanwright.visit.written import visit_from

__all__ = ["Assessment", "NotJudged", "Past", "Visit", "Work", "assess", "visit_from"]
