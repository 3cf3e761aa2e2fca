// Numbers as the page's language writes them: its decimal mark, a minus that is no hyphen.

const parts = new Intl.NumberFormat(document.documentElement.lang || "en").formatToParts(1.5);
const MARK = parts.find((one) => one.type === "decimal")?.value ?? ".";

export const figure = (value, digits) => value.toFixed(digits).replace("-", "\u2212").replace(".", MARK);
