# 12.0 kW on the clock and 18.0 at the worst offset (trade rules: common practice, no source); then days on which
# something may have been more
for day in 2026-05-04 2026-05-05 2026-05-06 2026-05-07 2026-05-08 2026-05; do
    "$METERBOOK" --database demand.record --now 2026-05-10T00:00:00Z demand $day | tail -n 2
done
"$METERBOOK" --database demand.record --now 2026-05-10T00:00:00Z duration 2026-05-05 | grep -v '^base'
