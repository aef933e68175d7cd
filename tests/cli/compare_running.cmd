# a span that goes on: its whole days so far beside the same dates, which are more in a leap year; weeks by their number
"$METERBOOK" -c invented/meterbook.conf --now 2025-02-20T09:00:00Z compare 2025 | sed -n '1,2p; /differ/p; /^production/p'
"$METERBOOK" -c invented/meterbook.conf compare 2025-W09 | sed -n '1,2p; /^production/p'
"$METERBOOK" --database household.record compare 2026-03/2026-04 2026-03-01/2026-03-10 | sed -n '1,2p; /known\|differ/p; /^production/p'
"$METERBOOK" --database household.record compare 2026-03-30 2026-03-29
echo $?
