# rows of 20 s carry seconds
"$METERBOOK" --database short.record --by interval day 2026-05-05
