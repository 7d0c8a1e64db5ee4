// Says the step aloud, with the browser's own voice, if the weaver wants it.
const KEY = "settscan-speak";
let box;

export function startSpeech(checkbox) {
  box = checkbox;
  if (!("speechSynthesis" in window)) { box.disabled = true; return; }
  box.checked = localStorage.getItem(KEY) === "yes";
  box.addEventListener("change", () => {
    localStorage.setItem(KEY, box.checked ? "yes" : "no");
    if (box.checked) speak("I shall say each step."); else window.speechSynthesis.cancel();
  });
}

export function speak(text) {
  if (!box || !box.checked || !("speechSynthesis" in window)) return;
  window.speechSynthesis.cancel();
  const words = new SpeechSynthesisUtterance(text);
  words.lang = document.documentElement.lang;
  words.rate = 0.95;
  window.speechSynthesis.speak(words);
}
