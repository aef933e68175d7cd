# a page has one form
"$METERBOOK" --database household.record --format csv report 2026-03
