// Looks at the page that it is evaluated in and returns what is wrong, as a list of sentences.
// options.layout: texts clipped, beyond the page or upon another; options.colours: contrast; options.structure: what
// a reader needs who does not see the pictures. options.open: with all tables unfolded.
function lookAtPage(options) {
    const wrong = [];
    for (const details of document.querySelectorAll("details")) details.open = options.open;
    const says = text => JSON.stringify(text.trim().slice(0, 50));
    const shown = element => element.checkVisibility({ visibilityProperty: true, opacityProperty: true });
    const seen = element => {
        const style = getComputedStyle(element);
        return shown(element) && !element.closest("title, desc, style, defs") && style.display !== "none";
    };

    // every visible line of text with its box
    function texts() {
        const found = [];
        const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        for (let node; (node = walker.nextNode());) {
            const element = node.parentElement;
            if (!node.data.trim() || !seen(element)) continue;
            const range = document.createRange();
            range.selectNodeContents(node);
            for (const box of range.getClientRects())
                if (box.width > 0 && box.height > 0)
                    found.push({ element, text: node.data, picture: element.closest("svg"), left: box.left + scrollX,
                                 right: box.right + scrollX, top: box.top + scrollY, bottom: box.bottom + scrollY });
        }
        return found;
    }

    // a text that a table's own scroller holds may be anywhere across
    function checkPlaces(found) {
        const width = document.documentElement.clientWidth;
        if (document.documentElement.scrollWidth > width)
            wrong.push(`the page is ${document.documentElement.scrollWidth} px wide, its window ${width}`);
        for (const box of found) {
            let scrolls = false;
            for (let e = box.element; e && e !== document.documentElement; e = e.parentElement) {
                const overflow = getComputedStyle(e).overflowX, outer = e.getBoundingClientRect();
                if (overflow === "auto" || overflow === "scroll") scrolls = true;
                const apart = Math.max(outer.left + scrollX - box.left, box.right - outer.right - scrollX,
                                       outer.top + scrollY - box.top - 3, box.bottom - outer.bottom - scrollY - 3);
                if ((overflow === "hidden" || overflow === "clip") && !scrolls && apart > 1)
                    wrong.push(`${says(box.text)} is clipped by ${e.tagName} for ${apart.toFixed(1)} px`);
            }
            const beyond = Math.max(-box.left, box.right - width, -box.top);
            if (!scrolls && beyond > 0.5) wrong.push(`${says(box.text)} is beyond the page for ${beyond.toFixed(1)} px`);
        }
    }

    // glyphs fill about two thirds of a line's height; labels of a picture also keep a distance across
    function checkOverlaps(found) {
        const boxes = found.map(b => {
            const inset = (b.bottom - b.top) / 6, aside = b.picture ? 1.5 : -0.5;
            return { ...b, left: b.left - aside, right: b.right + aside, top: b.top + inset, bottom: b.bottom - inset };
        }).sort((a, b) => a.top - b.top);
        boxes.forEach((a, i) => {
            for (let j = i + 1; j < boxes.length && boxes[j].top < a.bottom; j++) {
                const b = boxes[j];
                if (Math.min(a.right, b.right) > Math.max(a.left, b.left) && Math.min(a.bottom, b.bottom) > b.top + 0.5)
                    wrong.push(`${says(a.text)} and ${says(b.text)} overlap at ${Math.round(b.left)}, ` +
                               `${Math.round(b.top)}` + (a.picture ? ` in ${a.picture.id || "a key"}` : ""));
            }
        });
    }

    // [red, green, blue, opacity]; null for what is no plain colour, as a pattern
    function colour(text, opacity) {
        const numbers = /^rgba?\(([^)]*)\)$/.exec(text);
        if (!numbers) return text === "none" ? [0, 0, 0, 0] : null;
        const [red, green, blue, alpha = 1] = numbers[1].split(",").map(Number);
        return [red, green, blue, alpha * opacity];
    }
    const over = (upper, lower) => upper.slice(0, 3).map((c, i) => c * upper[3] + lower[i] * (1 - upper[3]));
    // WCAG 2.1, relative luminance and contrast ratio (from memory)
    function luminance(rgb) {
        const [r, g, b] = rgb.map(c => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    }
    function contrast(a, b) {
        const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
        return (high + 0.05) / (low + 0.05);
    }

    // what is painted at a point under its text; null where it is a pattern. The page has the colour of its body.
    function ground(x, y) {
        const layers = [], paper = over(colour(getComputedStyle(document.body).backgroundColor, 1), [255, 255, 255]);
        for (const e of document.elementsFromPoint(x - scrollX, y - scrollY)) {
            const style = getComputedStyle(e), drawn = e instanceof SVGElement && e.tagName !== "svg";
            if (["text", "tspan"].includes(e.tagName)) continue;
            const layer = drawn ? colour(style.fill, Number(style.fillOpacity)) : colour(style.backgroundColor, 1);
            if (!layer) return null;
            layers.push(layer);
            if (layer[3] === 1) break;
        }
        return layers.reverse().reduce((lower, upper) => over(upper, lower), paper);
    }

    function checkColours(found) {
        for (const box of found) {
            const style = getComputedStyle(box.element), size = parseFloat(style.fontSize);
            const row = box.element.closest("tr"), held = box.element.closest(".scroll");
            if (row && row.rowIndex > 2) continue; // as those above it
            if (held && box.right > held.getBoundingClientRect().right + scrollX) continue; // to be scrolled to
            const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
            const ink = box.picture ? colour(style.fill, Number(style.fillOpacity)) : colour(style.color, 1);
            let least = Infinity;
            for (const share of [0.02, 0.5, 0.98]) {
                const under = ground(box.left + share * (box.right - box.left), (box.top + box.bottom) / 2);
                least = Math.min(least, under && ink ? contrast(over(ink, under), under) : 0);
            }
            if (least < (large ? 3 : 4.5)) wrong.push(`contrast of ${says(box.text)} is ${least.toFixed(2)}`);
        }
    }

    function checkStructure() {
        if (!document.documentElement.lang) wrong.push("no language");
        if (!document.title.trim()) wrong.push("no title");
        let level = 0;
        for (const head of document.querySelectorAll("h1, h2, h3, h4, h5, h6")) {
            const here = Number(head.tagName[1]);
            if (here > level + 1) wrong.push(`head ${says(head.textContent)} of level ${here} after level ${level}`);
            level = here;
        }
        if (document.querySelectorAll("h1").length !== 1) wrong.push("not one first head");
        for (const picture of document.querySelectorAll("svg")) {
            if (picture.parentElement.closest("svg") || picture.getAttribute("aria-hidden") === "true") continue;
            const own = tag => [...picture.children].find(e => e.tagName === tag && e.textContent.trim());
            const name = picture.id || "a picture";
            if (picture.getAttribute("role") !== "img") wrong.push(`${name} is no img`);
            if (!own("title") || !own("desc")) wrong.push(`${name} has no title or description`);
            if (!(picture.closest("section") || picture).querySelector("table td")) wrong.push(`no table beside ${name}`);
        }
        for (const table of document.querySelectorAll("table"))
            if (!table.querySelector("th[scope]")) wrong.push(`a table without heads: ${says(table.textContent)}`);
        const policy = document.querySelector("meta[http-equiv='Content-Security-Policy']");
        if (!policy || !policy.content.includes("default-src 'none'")) wrong.push("no content security policy");
    }

    const found = texts();
    if (options.layout) checkPlaces(found), checkOverlaps(found);
    if (options.colours) checkColours(found);
    if (options.structure) checkStructure();
    return wrong;
}
