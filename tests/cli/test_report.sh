#!/bin/sh
# Pages of an invented plant and of small sites: well-formed, closed to the outside, with what a reader needs who
# does not see the pictures, and small. Their look is nothing that a script can judge.
name=test_report
. "$(dirname "$0")/../wire/wire_lib.sh"
"$BUILD/invent" "$work/site" >/dev/null || fail "invent"
mkdir "$work/pages" "$work/folder"
page() { # page NAME OPTION...: of the invented plant
    file=$work/pages/$1.html
    shift
    "$BUILD/meterbook" -c "$work/site/meterbook.conf" --now 2025-03-01T09:00:00Z report "$@" --output "$file" ||
        fail "report $*"
}
contract=$top/config/tariffs/invented.contract
page year 2024 --contract "$contract"
page seam 2023-01/2023-04
page all all --contract "$contract"
page month 2024-06
page day 2024-06-11
# whatever a site lacks
for sql in "$top"/tests/cli/fixture_*.sql; do
    site=$(basename "$sql" .sql) site=${site#fixture_}
    after=$(sed -n '1s|^-- after \([a-z_]*\).*|\1|p' "$sql")
    "$BUILD/make_record" "$work/$site.record" ${after:+"$top/tests/cli/fixture_$after.sql"} "$sql" || fail "make_record"
    "$BUILD/meterbook" --database "$work/$site.record" --now 2026-06-01T00:00:00Z report all \
        >"$work/pages/$site.html" 2>"$work/said"
    code=$?
    case $site:$code in
    *:0) ;;
    blank:1 | settings_only:1 | branch:1 | newer:3) rm "$work/pages/$site.html" ;;
    *) fail "report of $site ends with $code: $(cat "$work/said")" ;;
    esac
done
"$BUILD/meterbook" -c "$work/site/meterbook.conf" --now 2025-02-27T09:00:00Z report --folder "$work/folder" ||
    fail "report --folder"
listed=$(cd "$work/folder" && echo *)
[ "$listed" = "2024.html 2025-01.html 2025-02.html 2025.html all.html index.html" ] || fail "the folder has $listed"
[ "$(grep -c '<li><a href="[0-9a-z-]*.html">' "$work/folder/index.html")" = 5 ] || fail "the list of pages"

# what stands where no page can be made is left as it was
echo kept >"$work/kept.html"
"$BUILD/meterbook" -c "$work/site/meterbook.conf" --now 2025-03-01T09:00:00Z report 2031 --output "$work/kept.html" \
    2>/dev/null && fail "a page of nothing"
[ "$(cat "$work/kept.html")" = kept ] && [ ! -e "$work/kept.html.part" ] || fail "a page that failed left something"
"$BUILD/meterbook" -c "$work/site/meterbook.conf" report 2024 --output "$work/no/such.html" 2>/dev/null
[ $? = 4 ] || fail "the code where the page cannot be written"

python3 - "$work/pages/"*.html "$work/folder/"*.html <<'END' || fail "see above"
import base64, hashlib, os, re, sys, xml.dom.minidom
bad = 0
for path in sys.argv[1:]:
    text = open(path, encoding="utf-8").read()
    name = os.path.basename(path)
    def check(holds, what):
        global bad
        if not holds:
            bad += 1
            print(f"{name}: {what}")
    page = xml.dom.minidom.parseString(text.encode())
    elements = page.getElementsByTagName("*")
    style = page.getElementsByTagName("style")[0].firstChild.data
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = [m.getAttribute("content") for m in page.getElementsByTagName("meta")
              if m.getAttribute("http-equiv") == "Content-Security-Policy"]
    check(len(policy) == 1 and policy[0].startswith("default-src 'none'; ") and f"'sha256-{digest}'" in policy[0],
          "the policy does not name the style")
    check(page.documentElement.getAttribute("lang") == "en", "no language")
    check(page.getElementsByTagName("h1").length == 1, "not one head")
    check(not {"script", "img", "iframe", "object", "foreignObject"} & {e.tagName for e in elements}, "an element that asks")
    seen = set()
    for e in elements:
        for key, value in e.attributes.items():
            check(key != "style" and not key.startswith("on"), f"an attribute {key}")
            check("//" not in value or key == "xmlns" or value in policy, f"an address {value}")
        if e.hasAttribute("id"):
            check(e.getAttribute("id") not in seen, f"twice the id {e.getAttribute('id')}")
            seen.add(e.getAttribute("id"))
    # each picture says what it is, has a caption, a table and short numbers
    for figure in page.getElementsByTagName("figure"):
        picture = figure.getElementsByTagName("svg")[0]
        label = picture.getAttribute("aria-labelledby").split()
        check(picture.getAttribute("role") == "img" and len(label) == 2, "a picture without a name")
        for part in label:
            named = [e for e in picture.childNodes if e.nodeType == 1 and e.getAttribute("id") == part]
            check(len(named) == 1 and named[0].firstChild, f"{part} is empty")
        caption = figure.getElementsByTagName("figcaption")
        check(caption.length == 1 and caption[0].firstChild, f"no sentence under {picture.getAttribute('id')}")
        for e in picture.getElementsByTagName("*"):
            for key, value in e.attributes.items():
                if key in ("x", "y", "x1", "y1", "x2", "y2", "width", "height"):
                    check(re.fullmatch(r"-?\d*(\.\d{1,2})?%?", value), f"a long number {value}")
    # what is said of every figure
    if name not in ("index.html",):
        check(page.getElementsByTagName("figure").length >= 2, "few pictures")
        check("NaN" not in text and "-9223372036854" not in text, "a number that is none")
    size = os.path.getsize(path)
    check(size < 400 * 1024, f"{size} bytes")
    if name == "seam.html":
        for id in ("picture-bars", "picture-hours-production", "picture-hours-import", "picture-hours-export",
                   "picture-completeness"):
            svg = [s for s in page.getElementsByTagName("svg") if s.getAttribute("id") == id][0]
            check(any(l.getAttribute("class") == "seam" for l in svg.getElementsByTagName("line")), f"no seam in {id}")
        for id in ("picture-average", "picture-duration", "picture-voltage"):
            svg = [s for s in page.getElementsByTagName("svg") if s.getAttribute("id") == id][0]
            check("measured from 1 March 2023 on" in svg.toxml(), f"no seam in {id}")
    if name in ("day.html", "month.html", "year.html", "all.html"):
        check('class="hatch"' in text, "the gap of June 2024 is not hatched")
    if name in ("year.html", "all.html"):
        print(f"{name}: {size} bytes")
    if name == "year.html":
        sections = [s.getAttribute("id") for s in page.getElementsByTagName("section")]
        check(sections == ["totals", "bars", "curve", "hours", "days", "demand", "duration", "yield", "parts",
                           "voltage", "agreement", "outages", "completeness", "savings", "cash", "sweep", "bill"], f"sections {sections}")
        check("inverter 3 lagged from 2024-05-16" in text, "the part that lagged")
    if name == "all.html" and "picture-savings" in text:
        bills = [s for s in page.getElementsByTagName("svg") if s.getAttribute("id") == "picture-savings"][0]
        check(any(l.getAttribute("class") == "seam" for l in bills.getElementsByTagName("line")), "no seam in the bills")
        check(any("sealed" in b.getAttribute("class") for b in bills.getElementsByTagName("rect")), "no sealed bill")
    if name == "grid_alone.html":
        check("What was made is not known" in text, "what is not known")
sys.exit(bad > 0)
END
echo "$name: all pages hold"
