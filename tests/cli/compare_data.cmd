# half a day's roof is missing in the first: a day's figure is of what is known
"$METERBOOK" --database household.record --format json compare 2026-03-20 2026-03-19
"$METERBOOK" --database storage.record --format csv compare 2026-05-05 2026-05-05
"$METERBOOK" --database grid_alone.record compare 2026-05-05 2026-05-05
