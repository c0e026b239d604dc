// Says nothing aloud, and keeps what it was asked to say until it is stopped.
"use strict";
self.said = [];
chrome.ttsEngine.onSpeak.addListener((words, options, tell) => {
  self.said.push(words);
  tell({ type: "start", charIndex: 0 });
});
chrome.ttsEngine.onStop.addListener(() => self.said.push("stopped"));
