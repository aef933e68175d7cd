# final yield 4 and 2, capacity factors 16.67 and 8.33 of kWp, 11.11 of AC, ratio 50 %, at 25 degC 54.35
"$METERBOOK" --database yield.record --now 2026-03-05T12:00:00Z yield all
"$METERBOOK" --database yield.record --now 2026-03-05T12:00:00Z --format csv yield 2026-03-04 2>/dev/null
"$METERBOOK" --database yield.record --now 2026-03-05T12:00:00Z expected 2026-03
"$METERBOOK" --database yield.record --now 2026-03-05T12:00:00Z degradation
"$METERBOOK" --database yield.record --now 2026-03-05T12:00:00Z cleaning
