#include "page.h"

#include <string.h>

#include "html.h"
#include "palette.h"
#include "sha256.h"

/* After the colours. Nothing in it may need escaping in XML. */
static const char rules[] =
    "*{box-sizing:border-box}\n"
    "body{margin:0 auto;padding:1rem;max-width:62rem;background:var(--paper);color:var(--ink);"
    "font:1rem/1.5 system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans','DejaVu Sans',sans-serif;"
    "overflow-wrap:break-word}\n"
    "h1,h2{line-height:1.2;text-wrap:balance}\n"
    "h1{font-size:1.7rem;margin:.5rem 0}\n"
    "h1 span{display:block;font-size:1.15rem;font-weight:400;color:var(--faint)}\n"
    "h2{font-size:1.2rem;margin:2.5rem 0 .5rem;padding-top:.6rem;border-top:2px solid var(--rule)}\n"
    "h3{font-size:1rem;margin:1.5rem 0 .2rem}\n"
    "p{margin:.5rem 0;max-width:46rem}\n"
    "figure{margin:1rem 0;padding:0}\n"
    "figcaption{max-width:46rem;margin:.25rem 0}\n"
    "a{color:var(--link)}\n"
    ".marks{list-style:none;display:flex;flex-wrap:wrap;gap:.4rem;padding:0;margin:.5rem 0}\n"
    ".marks li{border:1px solid var(--ink);border-radius:.2rem;padding:0 .5rem}\n"
    ".notes{background:var(--panel);margin:.5rem 0;padding:.6rem 1rem .6rem 2rem;font-size:.9rem}\n"
    "footer{margin-top:2.5rem;padding-top:.6rem;border-top:2px solid var(--rule);color:var(--faint);"
    "font-size:.9rem}\n"
    /* tables */
    "details{margin:.5rem 0}\n"
    "summary{cursor:pointer;color:var(--link);padding:.4rem 0}\n"
    ".scroll{overflow-x:auto}\n"
    "table{border-collapse:collapse;font-size:.85rem;font-variant-numeric:tabular-nums}\n"
    "th,td{padding:.2rem .6rem;border-bottom:1px solid var(--rule);text-align:right;white-space:nowrap;"
    "vertical-align:bottom}\n"
    "th[scope=row],th:first-child,.w{text-align:left}\n"
    "th{font-weight:600}\n"
    /* pictures: the margins hold the labels */
    ".p{display:block;width:calc(100% - 4.6rem);margin:1.6rem .9rem 2.7rem 3.7rem;overflow:visible}\n"
    ".p text,.p svg{overflow:visible}\n"
    ".p text{font-size:12px;fill:var(--ink);font-variant-numeric:tabular-nums}\n"
    ".y{text-anchor:end;dominant-baseline:middle}\n"
    ".x,.c{text-anchor:middle}\n"
    ".ml{text-anchor:end}\n"
    ".g,.z,.v{stroke:var(--rule)}\n"
    ".z{stroke:var(--ink)}\n"
    ".v{stroke-dasharray:1 3}\n"
    ".seam{stroke:var(--ink);stroke-width:1.5;stroke-dasharray:6 3}\n"
    ".f{stroke:none}\n"
    ".self{fill:var(--self)}.export{fill:var(--export)}.import{fill:var(--import)}"
    ".plain{fill:var(--plain)}.warn{fill:var(--warn)}.nothing{fill:var(--nothing)}\n"
    ".line,.limit{fill:none;stroke:var(--ink);stroke-width:1.4;vector-effect:non-scaling-stroke}\n"
    ".limit{stroke:var(--warn);stroke-dasharray:8 3}\n"
    ".ahead{fill:none;stroke:var(--ink);stroke-width:1.4;stroke-dasharray:5 "
    "4;vector-effect:non-scaling-stroke}\n"
    ".cash{fill:var(--self);fill-opacity:.45}.dot{fill:var(--ink);stroke:var(--paper);stroke-width:"
    "1.5}\n"
    ".w{fill:none;stroke-width:2.2;vector-effect:non-scaling-stroke}\n"
    ".w1{stroke:var(--self)}.w2{stroke:var(--export);stroke-dasharray:7 3}.w3{stroke:var(--import)}"
    ".w4{stroke:var(--plain);stroke-dasharray:7 3}.w5{stroke:var(--warn)}"
    ".w6{stroke:var(--ink);stroke-dasharray:2 3}\n"
    ".key-line{fill:none;stroke:var(--ink);stroke-width:3}.key-ahead{stroke-dasharray:4 3}\n"
    ".sealed{fill-opacity:.3;stroke:var(--ink);stroke-width:1}\n"
    ".hatch{fill:url(#hatch)}\n"
    ".dots{fill:url(#dots)}\n"
    ".hl{stroke:var(--ink);stroke-width:1.5}.hp{stroke:var(--paper);stroke-width:3.5}\n"
    ".hd{fill:var(--faint)}\n"
    ".raster path{fill:none;stroke-width:1.02}\n"
    ".defs{position:absolute}\n"
    ".key{list-style:none;display:flex;flex-wrap:wrap;gap:.1rem 1rem;padding:0;margin:.4rem 0;"
    "font-size:.85rem}\n"
    ".key svg{vertical-align:-.1em;margin-right:.35rem;outline:1px solid var(--rule)}\n"
    "@media (max-width:40rem){.thin{display:none}h1{font-size:1.4rem}body{padding:.7rem}"
    "th,td{padding:.2rem .3rem}th,.w{white-space:normal}"
    ".p{width:calc(100% - 3.9rem);margin-left:3.2rem;margin-right:.7rem}}\n"
    "@page{size:A4;margin:14mm}\n"
    "@media print{:root{font-size:9.5pt}body{padding:0;max-width:none}p,figcaption{max-width:none}"
    "figure,.key{break-inside:avoid}"
    "h2,h3,figcaption{break-after:avoid}summary{list-style:none;color:var(--ink);break-after:avoid}tr{break-"
    "inside:avoid}"
    "details::details-content{content-visibility:visible;display:block;height:auto}"
    ".scroll{overflow:visible}table{font-size:7pt}th,td{padding:.1rem .2rem}"
    "th[scope=col]{white-space:normal;font-size:6.5pt;font-weight:400}"
    ".p{margin:26px 19px 43px 59px;width:calc(100% - 78px)}}\n";

static size_t add_colours(char style[PAGE_STYLE_SIZE], size_t at, bool dark)
{
    for (int32_t i = 0; i < PALETTE_COUNT; i++)
        at += (size_t)snprintf(style + at, PAGE_STYLE_SIZE - at, "--%s:#%06x%s", palette[i].name,
                               (unsigned)(dark ? palette[i].dark : palette[i].light),
                               i + 1 < PALETTE_COUNT ? ";" : "}");
    return at;
}

/* The strokes of a raster's levels. */
static size_t add_levels(char style[PAGE_STYLE_SIZE], size_t at)
{
    for (int32_t i = COLOUR_NOTHING; i < PALETTE_COUNT; i++)
        at +=
            (size_t)snprintf(style + at, PAGE_STYLE_SIZE - at, ".s-%s{stroke:var(--%s)}.f-%s{fill:var(--%s)}",
                             palette[i].name, palette[i].name, palette[i].name, palette[i].name);
    return at;
}

size_t page_style(char style[PAGE_STYLE_SIZE])
{
    size_t at = (size_t)snprintf(style, PAGE_STYLE_SIZE, "\n:root{color-scheme:light dark;");
    at = add_colours(style, at, false);
    at += (size_t)snprintf(style + at, PAGE_STYLE_SIZE - at,
                           "\n@media screen and (prefers-color-scheme:dark){:root{");
    at = add_colours(style, at, true);
    at += (size_t)snprintf(style + at, PAGE_STYLE_SIZE - at, "}\n%s", rules);
    return add_levels(style, at);
}

void page_open(FILE *out, const char *title)
{
    char style[PAGE_STYLE_SIZE], hash[SHA256_BASE64_SIZE];
    uint8_t digest[SHA256_SIZE];
    sha256(style, page_style(style), digest);
    sha256_base64(digest, hash);
    fprintf(out,
            "<!DOCTYPE html>\n"
            "<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\">\n<head>\n"
            "<meta charset=\"utf-8\"/>\n"
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
            "style-src 'sha256-%s'; img-src data:; base-uri 'none'; form-action 'none'\"/>\n"
            "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
            "<meta name=\"referrer\" content=\"no-referrer\"/>\n"
            "<meta name=\"robots\" content=\"noindex\"/>\n"
            "<link rel=\"icon\" href=\"data:,\"/>\n<title>",
            hash);
    html_text(out, title);
    fprintf(out, "</title>\n<style>%s</style>\n</head>\n<body>\n", style);
    /* lines on a ground of paper show on every colour */
    fputs("<svg class=\"defs\" width=\"0\" height=\"0\" aria-hidden=\"true\"><defs>"
          "<pattern id=\"hatch\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
          "patternTransform=\"rotate(45)\"><path class=\"hp\" d=\"M3.5 0v7\"/>"
          "<path class=\"hl\" d=\"M3.5 0v7\"/></pattern>"
          "<pattern id=\"dots\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">"
          "<circle class=\"hd\" cx=\"3\" cy=\"3\" r=\".8\"/></pattern></defs></svg>\n",
          out);
}

void page_close(FILE *out)
{
    fputs("</body>\n</html>\n", out);
}
