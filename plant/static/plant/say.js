/* Says a question of the check aloud, by the browser's own speech. Only with a voice that lives on
   this phone: it works without signal, and nothing that is asked leaves the phone. Which language
   is spoken, the page's own lang decides. Without such a voice no button is shown. */
"use strict";
(() => {
  const speech = window.speechSynthesis;
  if (!speech) return;
  const page = document.documentElement;

  // Some phones write a language as en_GB.
  const told = (voice) => voice.lang.replace("_", "-").toLowerCase();
  function voice() {
    const here = speech.getVoices().filter((one) => one.localService);
    const wanted = page.lang.toLowerCase();
    const alike = (one) => told(one).split("-")[0] === wanted.split("-")[0];
    return here.find((one) => told(one) === wanted) || here.find(alike);
  }

  // The voices of a phone are known a moment after its page.
  const look = () => page.toggleAttribute("data-speaks", Boolean(voice()));
  speech.addEventListener("voiceschanged", look);
  look();

  const hush = () => speech.cancel();
  document.addEventListener("click", (event) => {
    if (event.target.matches("input[type=radio]")) hush();
    const button = event.target.closest(".say");
    const speaker = button && voice();
    if (!speaker) return;
    hush();
    const words = button.closest("fieldset").querySelector(".asked > span").textContent;
    const said = new SpeechSynthesisUtterance(words.trim());
    said.voice = speaker;
    said.lang = speaker.lang;
    speech.speak(said);
  });
  document.addEventListener("submit", hush);
  addEventListener("pagehide", hush);
})();
