// What is cut on a printed page, told with what cuts it: its sheet's edge, a box that hides, the next page, a column
// too narrow for a word, a drawing's lines. Given the tolerance in pixels and the longest word that may not be broken.
([tolerance, longest]) => {
    const found = [];
    const tell = (what, box) =>
        found.push(`${what}: ${box.textContent.trim().slice(0, 60)} in ${box.outerHTML.slice(0, 90)}`);
    const meet = (one, other) =>
        one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom;
    const inside = (one, frame) =>
        one.left >= frame.left - tolerance && one.right <= frame.right + tolerance
        && one.top >= frame.top - tolerance && one.bottom <= frame.bottom + tolerance;

    const checkBox = (box, edge) => {
        const place = box.getBoundingClientRect(), style = getComputedStyle(box);
        if (place.width <= 1) return;
        if (place.right > edge.right + tolerance || place.left < edge.left - tolerance) tell('beyond its sheet', box);
        if (style.overflowX !== 'visible' && box.scrollWidth > box.clientWidth + tolerance) tell('hidden at the side', box);
        if (style.overflowY !== 'visible' && box.scrollHeight > box.clientHeight + tolerance) tell('hidden below', box);
        if (style.textOverflow !== 'clip' || style.webkitLineClamp !== 'none') tell('cut with dots', box);
        const whole = '.write-area, .cut-card, .table-card, .write-grid > div, figure, tr';
        if (box.matches(whole) && style.breakInside !== 'avoid') tell('the next page may cut it', box);
    };

    const checkWords = sheet => {
        const walker = document.createTreeWalker(sheet, NodeFilter.SHOW_TEXT), range = document.createRange();
        while (walker.nextNode()) {
            const text = walker.currentNode, parent = text.parentElement;
            // An address of a card may be longer than its line, and holds what looks like short words by chance.
            if (parent.closest('.sr-only, svg, .address')) continue;
            // Between two words a hyphen may end a line; inside one nothing may.
            for (const word of text.textContent.matchAll(/[\p{L}\p{N}]{2,}/gu)) {
                if (word[0].length > longest) continue;
                range.setStart(text, word.index);
                range.setEnd(text, word.index + word[0].length);
                const lines = new Set([...range.getClientRects()].map(part => Math.round(part.top)));
                if (lines.size > 1) tell(`'${word[0]}' is broken`, parent);
            }
        }
    };

    const checkDrawing = drawing => {
        const frame = drawing.getBoundingClientRect();
        const place = part => part.getBoundingClientRect();
        const names = [...drawing.querySelectorAll('text')], lines = [...drawing.querySelectorAll('line')].map(place);
        names.forEach((name, index) => {
            if (!inside(place(name), frame)) tell('cut by its drawing', name);
            const others = [...names.slice(index + 1).map(place), ...lines];
            if (others.some(other => meet(place(name), other))) tell('something lies over it', name);
        });
    };

    for (const sheet of document.querySelectorAll('main .sheet')) {
        const edge = sheet.getBoundingClientRect();
        sheet.querySelectorAll('*:not(.sr-only, .sr-only *)').forEach(box => checkBox(box, edge));
        checkWords(sheet);
        sheet.querySelectorAll('svg').forEach(checkDrawing);
    }
    return found;
}
