"""The VBA module that makes the cell functions known to Excel, without Import Functions.

It calls Python as the module does that xlwings' Import Functions writes, has its name and is
replaced by it. So the functions work as soon as macros are allowed, also where the access that
Import Functions needs is locked. On a Mac, where xlwings has no cell functions, they say so.
"""

from collections.abc import Iterator

from estimator.excel import functions
from estimator.excel.cell_functions.support import FunctionHelp

NAME = "xlwings_udfs"
ABOUT = "' Written when this workbook was built; Import Functions rewrites it."
ON_MAC = "Cell functions work only in Excel on Windows"


def module_text() -> str:
    """Return the text of the module, as a .bas file has it."""
    lines = [f'Attribute VB_Name = "{NAME}"', ABOUT]
    for known in (*functions.catalog(), *functions.catalog(old=True)):
        lines += _function(known)
    return "\n".join(lines)


def _function(known: FunctionHelp) -> Iterator[str]:
    name, arguments = known.name, known.arguments
    declared = ", ".join(f"Optional {a.name}" if a.optional else a.name for a in arguments)
    given = ", ".join(argument.name for argument in arguments)
    target = f'"{functions.__name__}", "{name}", Array({given})'
    description = known.description.replace('"', '""')
    yield f"Function {name}({declared})"
    yield f'Attribute {name}.VB_Description = "{description}"'
    yield "    #If Mac Then"
    yield f'        {name} = "{ON_MAC}"'
    yield "        Exit Function"
    yield "    #Else"
    yield "        If TypeOf Application.Caller Is Range Then On Error GoTo failed"
    yield f"        {name} = XLPy.CallUDF({target}, ThisWorkbook, Application.Caller)"
    yield "        Exit Function"
    yield "    #End If"
    yield "failed:"
    yield f"    {name} = Err.Description"
    yield "End Function"
    yield ""
