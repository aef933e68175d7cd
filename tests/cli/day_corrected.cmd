"$METERBOOK" --database corrected.record day 2026-03-01
"$METERBOOK" --database corrected.record month 2026-03
