# hours of two days, days of two months, months of five years, years of more
for span in 2026-03-02/2026-03-03 2026-03 2026-01/2026-12 2020/2029; do
    "$METERBOOK" --database household.record totals $span | sed -n '/^hour\|^day\|^week\|^month\|^year/{s/ .*//;p}'
done
"$METERBOOK" --database household.record --now 2026-03-30T12:00:00Z totals all | head -n 9
