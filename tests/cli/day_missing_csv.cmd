"$METERBOOK" --database household.record --format csv day 2026-03-20 | sed -n "1p;115,135p"
