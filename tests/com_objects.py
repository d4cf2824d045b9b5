"""Stand-ins for the objects of Excel for Windows: each takes the members that are documented only.

Reference: the object model of Excel as its maker documents it for VBA (*Excel VBA reference*, pages
"Application object" to "Worksheet object"). Listed is what a press may use; a member that is not
here is refused, as Excel refuses one that it does not have. Nothing of it is Excel.
"""

MEMBERS = {
    "Application": {"Ready": True, "PrintCommunication": True},
    "Workbook": {
        "Application": "Application", "Date1904": False, "FullName": r"C:\jobs\job.xlsx",
        "ProtectStructure": False, "ReadOnly": False, "Windows": "Window", "SaveCopyAs": None,
    },
    "Window": {
        "FreezePanes": False, "ScrollColumn": 1, "ScrollRow": 1, "SplitColumn": 0, "SplitRow": 0,
        "View": 1,
    },
    "Worksheet": {
        "AutoFilterMode": False, "HPageBreaks": "HPageBreaks", "VPageBreaks": "HPageBreaks",
        "Hyperlinks": "Hyperlinks",
        "PageSetup": "PageSetup", "ProtectContents": False, "ProtectionMode": False,
        "ResetAllPageBreaks": None, "Shapes": "Shapes", "Tab": "Tab",
    },
    "Shapes": {"AddTextbox": "Shape", "BuildFreeform": "FreeformBuilder", "Count": 1,
               "Item": "Shape"},
    "FreeformBuilder": {"AddNodes": None, "ConvertToShape": "Shape"},
    "Shape": {"AlternativeText": "", "Delete": None, "Fill": "FillFormat", "Line": "LineFormat",
              "TextFrame": "TextFrame"},
    "FillFormat": {"ForeColor": "ColorFormat", "Visible": -1},
    "LineFormat": {"ForeColor": "ColorFormat", "Visible": -1, "Weight": 1.0},
    "ColorFormat": {"RGB": 0},
    "TextFrame": {"Characters": "Characters", "HorizontalAlignment": 1, "MarginBottom": 1.0,
                  "MarginLeft": 1.0, "MarginRight": 1.0, "MarginTop": 1.0, "VerticalAlignment": 1},
    "Characters": {"Font": "Font", "Text": ""},
    "PageSetup": {
        "BottomMargin": 0.0, "CenterFooter": "", "FooterMargin": 0.0, "HeaderMargin": 0.0,
        "LeftFooter": "", "LeftMargin": 0.0, "Orientation": 1, "PaperSize": 1, "PrintArea": "",
        "PrintTitleColumns": "", "PrintTitleRows": "", "RightFooter": "", "RightMargin": 0.0,
        "TopMargin": 0.0, "Zoom": 100,
    },
    "Tab": {"Color": 0},
    "HPageBreaks": {"Add": None},
    "Hyperlinks": {"Add": None},
    "Range": {"AutoFilter": None, "Font": "Font", "IndentLevel": 0, "ShrinkToFit": False},
    "Font": {"Bold": False, "Color": 0, "Name": "Arial", "Size": 11.0, "Underline": -4142},
    "Name": {"Visible": True},
    "Series": {"Border": "Border", "DataLabels": "DataLabels", "HasDataLabels": False},
    "Border": {"LineStyle": 1},
    "DataLabels": {"Position": 1, "ShowSeriesName": False, "ShowValue": True},
}  # fmt: skip
"""Members of each class: the class of what it gives, the value that it has, None for a method."""


class ComObject:
    """An object of Excel; ``orders``, shared by all of a workbook, notes what is set or done."""

    def __init__(self, kind, orders):
        vars(self).update(_kind=kind, _orders=orders, _members=dict(MEMBERS[kind]))

    def __getattr__(self, name):
        found = self._member(name)
        if found is None:
            return lambda *values: self._orders.append((f"{self._kind}.{name}", values))
        if isinstance(found, str) and found in MEMBERS:
            self._members[name] = found = ComObject(found, self._orders)
        return found

    def __setattr__(self, name, value):
        usual = self._member(name)
        if not isinstance(value, type(usual)) and not (
            isinstance(usual, float) and isinstance(value, int)
        ):
            raise TypeError(f"{self._kind}.{name} takes no {value!r}")
        self._members[name] = value
        self._orders.append((f"{self._kind}.{name}", value))

    def __call__(self, *values):
        if len(values) > 1:
            self._orders.append((f"{self._kind}()", values))
        return self

    def _member(self, name):
        if name not in self._members:
            raise AttributeError(f"{self._kind} has no member {name}")
        return self._members[name]
