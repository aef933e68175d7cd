# over two days of which one has 23 hours: hours need their date and offset
"$METERBOOK" --database household.record --by hour totals 2026-03-28/2026-03-29 | sed -n '1,8p;28,36p;$p'
