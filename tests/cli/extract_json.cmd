# a form that it does not have is refused, not answered in another
"$METERBOOK" --database household.record --format json extract 2026-03-20
