"""From a row and its picture to what lies on a sheet: sizes, margins, marks, labels, the record and what it costs."""
