/* Asks the server. Every address lies under the token, so all of them are relative. */
async function post(where, said) {
  return fetch(where, {
    method: "POST",
    headers: {"content-type": "application/json"},
    body: JSON.stringify(said),
  });
}

export async function state() {
  return (await fetch("state")).json();
}

export async function changed(base) {
  return (await fetch("changed?base=" + encodeURIComponent(base))).json();
}

export async function ask(question, said) {
  const answer = await post("ask/" + question, said);
  return answer.json();
}

/* A long question: `far` is told how far it is; the answer, or null where it was stopped. */
export async function askLong(question, said, far, signal) {
  const answer = await fetch("ask/" + question, {
    method: "POST",
    headers: {"content-type": "application/json"},
    body: JSON.stringify(said),
    signal,
  });
  const reader = answer.body.getReader();
  const decoder = new TextDecoder();
  let held = "";
  for (;;) {
    const {done, value} = await reader.read();
    if (done) { return null; }
    held += decoder.decode(value, {stream: true});
    const lines = held.split("\n");
    held = lines.pop();
    for (const line of lines) {
      const one = JSON.parse(line);
      if (one.far) { far(one.far); }
      if (one.answer) { return one.answer; }
    }
  }
}

export async function save(said) {
  const answer = await post("save", said);
  return {status: answer.status, ...(await answer.json())};
}
