# what is wrong with it is the configuration's to say; the last line is ours
mkdir -p own
echo 'site = { name = "Other name"; time_zone = "Europe/Nowhere"; };' >own/bad.conf
"$METERBOOK" -c own/bad.conf day >problems 2>&1
echo "code $?"
grep -c 'own/bad.conf:1:.*Europe/Nowhere' problems
tail -n 1 problems
"$METERBOOK" -c own/absent.conf day
