# a reader that goes away is nothing to talk about
"$METERBOOK" --database household.record --format csv day 2026-03-12 | head -n 1
