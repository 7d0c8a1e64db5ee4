// Words that differ between British and American English, for sentences made here.
const american = document.documentElement.dataset.words === "us";
export const colour = american ? "color" : "colour";

export function plural(number, one, many = `${one}s`) {
  return `${number} ${number === 1 ? one : many}`;
}
