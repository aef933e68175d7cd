# the logger was wrong for a while: sealed readings speak for the grid, then the record again
mkdir -p own
cat >own/site.conf <<END
site = { name = "Hill House"; time_zone = "Europe/Berlin"; latitude = 50.0; longitude = 9.0; };
record = { database = "$PWD/household.record"; runtime = "$PWD/own"; logbook = "site.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( { number = 1; name = "Roof"; role = "production"; delivers = "export"; bus = "host"; unit_id = 1;
             map = "sunspec"; rated_power = 5000; azimuth = 180; tilt = 30; peak_power = 5000; },
           { number = 2; name = "House"; role = "grid"; bus = "host"; unit_id = 2; map = "sunspec"; rated_power = 5000; } );
sealed_meters = ( { name = "utility meter"; role = "grid"; registers = "import export"; digits = 5; decimals = 1; phase_method = "netted"; },
                  { name = "roof meter"; role = "production"; registers = "export"; digits = 6; decimals = 1; } );
END
cat >own/site.txt <<'END'
2024-02-05 start "utility meter" import=0 export=0
2024-06-10T09:00 reading "utility meter" import=812.4 export=1501.9
2024-12-31T18:00 reading "utility meter" import=2190.0 export=4011.3
2025-07-02T17:45 reading "utility meter" import=3555.1 export=6120.8
2025-12-30T08:30 reading "utility meter" import=4881.7 export=8199.2
2026-03-15T17:45 reading "utility meter" import=5704.9 export=8930.0
2024-02-20T12:00 start "roof meter" export=0
2025-01-02T12:00 reading "roof meter" export=4720.5
2026-01-04T12:00 reading "roof meter" export=9804.0
2026-03-20T00:00 reading "roof meter" export=11330.7
END
cat >>own/site.txt <<'END'
2026-03-05T10:02 precedence grid source=sealed "the current transformers were wrong"
2026-03-20 precedence grid source=record
2026-03-25T08:00 reading "utility meter" import=5790.2 export=9180.5
END
site() { "$METERBOOK" -c own/site.conf --now 2026-03-30T12:07:07Z "$@"; echo "code $?"; }
site month 2026-03
site year 2026
site day 2026-03-05
site --format csv month 2026-03 2>/dev/null | sed -n '/^2026-03-0[456]/p'
# production too: consumption is known from sealed readings alone
echo '2026-03-05T10:02 precedence production source=sealed' >>own/site.txt
site --format csv month 2026-03 2>/dev/null | sed -n '/^2026-03-\(0[456]\|20\|21\)/p'
sed -i '$d' own/site.txt
# without the last reading nothing is known of the days from 15 March on
sed -i '$d' own/site.txt
site month 2026-03
# a meter that is not there, and a source that is none
sed 's/role = "production"; registers/role = "grid"; registers/; s/delivers = "export"; digits/digits/' own/site.conf >own/other.conf
cat >>own/site.txt <<'END'
2026-03-21 precedence production source=sealed
2026-03-21 precedence roof source=record
END
"$METERBOOK" -c own/other.conf logbook; echo "code $?"
