# weeks as ISO 8601 counts them, cut where the span is; the table's widths are chosen before a row is read
"$METERBOOK" --database household.record --by week totals 2026-03-04/2026-03-29
