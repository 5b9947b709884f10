/* The list of what was done on this phone, newest first: how each stands, and its undoing. */

const element = (name, attributes, ...children) => {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    made.setAttribute(key, value);
  }
  made.append(...children.filter(Boolean));
  return made;
};

export const fill = (sentence, told) =>
  sentence.replace(/\{(\w+)\}/g, (whole, name) => (told[name] === undefined ? whole : told[name]));

const BADGES = { waiting: "soon", sent: "good", refused: "wrong", needless: "note", later: "soon" };

/* ``act(what, entry)`` is called for "undo", "again", "seen" and "seed". */
export const drawList = (place, entries, words, act) => {
  const undone = new Set(entries.filter((entry) => entry.undoes).map((entry) => entry.undoes));
  const press = (name, kind, entry) => {
    const button = element("button", { type: "button", class: `button ${kind}` }, words[name]);
    button.append(element("span", { class: "visually-hidden" }, ` ${entry.code}`));
    button.addEventListener("click", () => act(name, entry));
    return button;
  };
  const row = (entry) => {
    const sentence = fill(words[entry.undoes ? `undo-${entry.what}` : `did-${entry.what}`], {
      who: entry.who || entry.borrower || "",
      variety: entry.variety || "",
    });
    const badge = element("span", { class: `badge ${BADGES[entry.state]}` }, words[entry.state]);
    const buttons = [];
    if (entry.state === "refused") {
      buttons.push(press("again", "second", entry), press("seen", "second", entry));
    } else if (entry.state === "later") {
      buttons.push(press("seed", "", entry), press("seen", "second", entry));
    } else if (!entry.undoes && !undone.has(entry.order) && entry.state !== "needless") {
      buttons.push(press("undo", "second", entry));
    }
    if (entry.failed > 2 && entry.state === "waiting") {
      buttons.push(press("aside", "second", entry));
    }
    return element(
      "li",
      { class: `done-row ${entry.state}` },
      element("p", {}, element("strong", { class: "code" }, entry.code), " ", badge),
      element("p", {}, sentence, entry.variety ? ` ${entry.variety}.` : ""),
      entry.why && entry.state === "refused" ? element("p", { class: "why-not" }, entry.why) : null,
      entry.state === "refused" ? element("p", { class: "fine" }, words["what-now"]) : null,
      buttons.length ? element("div", { class: "actions" }, ...buttons) : null
    );
  };
  const focused = document.activeElement;
  const keep = focused && place.contains(focused);
  const shown = [...entries].filter((entry) => entry.state !== "seen").reverse();
  place.replaceChildren(...shown.map(row));
  if (keep) {
    place.focus();
  }
};
