"""Sheets as text and the short way to read them, for the tests of the readers."""

from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import Declarations, RawFile

HEAD = """job,1041
customer,Quillmark Cartons
workflow,liquid-plate
separation,black
film lot,M5-0317
meter,T-04
measured,2026-11-20 10:05
zeroed on,clear
ruling,65 lpi
"""
TABLE = """patch,nominal,density,dot,length,where
clear,,0.00,,,left
solid,,2.91,,,left
solid,,2.88,,,centre
tint,50,,50.8,,centre
length,600.00,,,598.93,around
"""
TYPED = HEAD + "\n" + TABLE


def read(content, name="1041.csv", declarations=None):
    """Read text or bytes as the file of that name."""
    if isinstance(content, str):
        content = content.encode()
    return read_sheet(RawFile(name, content), declarations or Declarations())


def problems(sheet):
    return [problem.says for problem in sheet.problems]


def only(sheet):
    (negative,) = sheet.negatives
    return negative


def densities(sheet):
    return [patch.density.value for patch in only(sheet).patches if patch.density]


def numbers(sheet):
    """Everything measured, without the places: equal for equal readings in any format."""
    return [
        (
            negative.separation_name,
            [
                (
                    str(patch.kind),
                    *(
                        (number.value, str(number.bound)) if number else None
                        for number in (
                            patch.nominal,
                            patch.density,
                            patch.dot_percent,
                            patch.transmittance_percent,
                            patch.length_mm,
                        )
                    ),
                    patch.where,
                )
                for patch in negative.patches
            ],
        )
        for negative in sheet.negatives
    ]
