"""What the standard's names mean for film: where a density stands, which words are no slip.

Source   list of predefined properties and sample fields after CGATS.17 / ISO 28178 (transcription);
         names of the spectral products: ISO 5-3.
"""

from __future__ import annotations

STANDARD_KEYWORDS = frozenset(
    {
        "ORIGINATOR", "FILE_DESCRIPTOR", "DESCRIPTOR", "CREATED",
        "NUMBER_OF_FIELDS", "NUMBER_OF_SETS",
        "MANUFACTURER", "PROD_DATE", "SERIAL", "MATERIAL", "TARGET_TYPE", "COLORANT",
        "INSTRUMENTATION", "MEASUREMENT_SOURCE", "MEASUREMENT_GEOMETRY", "POLARIZATION",
        "SAMPLE_BACKING", "DIFFUSE_GEOMETRY", "WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER",
        "CHISQ_DOF", "PRINT_CONDITIONS", "TABLE_NAME", "TABLE_DESCRIPTOR", "KEYWORD",
        "DATA_FORMAT_IDENTIFIER",
    }
)  # fmt: skip
"""Header keywords of the standard that say nothing about a negative."""

DENSITY_FIELDS = {"D_VIS": "visual", "D_RED": "red", "D_GREEN": "green", "D_BLUE": "blue"}
"""Density fields of the standard and the filter that each was read through."""

UNNAMED_DENSITY_FIELDS = ("DENSITY", "D_MAJOR_FILTER")
"""Density fields whose filter the name does not tell."""

DEVICE_CHANNELS = ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")

ALIASES = {"SAMPLEID": "SAMPLE_ID", "SAMPLENAME": "SAMPLE_NAME"}
"""Spellings met in real files, upper case, and the standard's."""
