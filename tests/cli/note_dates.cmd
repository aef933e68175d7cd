# what is wrong with a date, and one that has not come yet
mkdir -p dates && rm -f dates/logbook.txt
cat >dates/site.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/dates"; logbook = "logbook.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; } );
END
note() { "$METERBOOK" -c dates/site.conf --now 2026-03-30T12:07:07Z note "$@"; echo "code $?"; }
note 2026-13-45 cleaning
note 2026-03-05T14.05 cleaning
note 2026-03-05
note 2026-03-30T15:00 cleaning
note correct Roof what=ratio from=2026-03-05
# what the collector is to act on
note correct Roof what=ratio old=50/5 new=100/5 from=2026-03-05 to=2026-03-06
note 2026-03-06 exchange Roof old.export=7 new.export=0
note revoke Roof of=2026-03-06
