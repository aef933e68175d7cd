# production meters for parts; one is extended, one clips, one makes half and then is silent, one looks elsewhere
"$METERBOOK" --database roofs.record --now 2026-08-01T09:00:00Z parts
"$METERBOOK" --database roofs.record --now 2026-08-01T09:00:00Z parts 2026-05 --by month --format csv
