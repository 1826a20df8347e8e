"""Control charts, capability and forecast, gathered from the modules that compute them."""

from gatekeeper.measures.capability import Bounds, Capability, capability
from gatekeeper.measures.cumulative import Cusum, Ewma, cusum, ewma
from gatekeeper.measures.forecast import Forecast, forecast_crossing
from gatekeeper.measures.run_tests import (
    ISO_7870_2,
    NELSON,
    WESTERN_ELECTRIC,
    RunTest,
    run_signals,
)
from gatekeeper.measures.shewhart import IndividualsChart, individuals

__all__ = [
    "ISO_7870_2",
    "NELSON",
    "WESTERN_ELECTRIC",
    "Bounds",
    "Capability",
    "Cusum",
    "Ewma",
    "Forecast",
    "IndividualsChart",
    "RunTest",
    "capability",
    "cusum",
    "ewma",
    "forecast_crossing",
    "individuals",
    "run_signals",
]
