# 45 minutes do not divide an hour: rows are intervals
"$METERBOOK" --database odd.record --by hour day 2026-05-05
