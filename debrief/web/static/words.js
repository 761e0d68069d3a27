// What the scripts say, in the language of the page: the same sentences and gaps as everywhere, from its head.
const head = document.querySelector('meta[name="script-words"]');
const words = head ? JSON.parse(head.content) : {};

export function tr(text, values = {}) {
  return (words[text] || text).replace(/\{(\w+)\}/g, (gap, name) => (name in values ? values[name] : gap));
}
