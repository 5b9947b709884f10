/* Sends what waits, one after the other, in the order in which it was done. A name for each
   request (Idempotency-Key) was kept before it is first sent, so that it can be sent again
   after a lost answer and is done once. */

const RETRY_AFTER = 10000;
const MINUTE = 60000;

const cookie = (name) => {
  const found = document.cookie.split("; ").find((pair) => pair.startsWith(`${name}=`));
  return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
};

/* The server's day on which something was done, from how long ago it is and its wall clock;
   neither the phone's time zone nor its clock matters. */
const dayOf = (entry, snapshot) => {
  const wall = Date.parse(`${snapshot.now.slice(0, 19)}Z`) + (Date.now() - snapshot.at);
  return new Date(wall - Math.max(0, Date.now() - entry.at)).toISOString().slice(0, 10);
};

const today = (snapshot) => dayOf({ at: Date.now() }, snapshot);

export const makeSender = ({ store, me, addresses, tell, keepPeople }) => {
  let snapshot = null;
  let state = "idle";
  let running = null;
  let again = false;

  const say = (next, words) => {
    state = next;
    tell({ state, words, snapshot });
  };

  /* What the server answers; ``null`` when it cannot be reached or is not itself. */
  const ask = async (address, options = {}) => {
    try {
      const response = await fetch(address, {
        credentials: "same-origin",
        cache: "no-store",
        redirect: "manual",
        signal: AbortSignal.timeout ? AbortSignal.timeout(30000) : undefined,
        ...options,
      });
      const told = (response.headers.get("content-type") || "").includes("json");
      if (!told) {
        return null; // a portal's page or a proxy's: not our server's answer
      }
      return { status: response.status, body: await response.json() };
    } catch (lost) {
      return null;
    }
  };

  const lookAround = async () => {
    const answer = await ask(addresses.table);
    if (answer === null || answer.status >= 500) {
      say("offline");
    } else if (answer.status === 401) {
      say("signed-out");
    } else if (answer.status !== 200) {
      say("not-desk");
    } else if (answer.body.me !== me) {
      say("somebody-else");
    } else {
      snapshot = { ...answer.body, at: Date.now() };
      keepPeople(snapshot.people);
      return true;
    }
    return false;
  };

  const bodyOf = async (entry) => {
    const body = { packet: entry.code, done_by: me };
    const undone = entry.undoes ? await store.get(entry.undoes) : null;
    if (entry.what === "lend") {
      body.borrower = undone ? undone.borrower : entry.who;
    } else if (undone) {
      body.loan = undone.loan;
    }
    const day = dayOf(entry, snapshot);
    return day < today(snapshot) ? { ...body, on: day } : body;
  };

  /* The entry with its body and name settled: what is sent again is the same to the letter. */
  const settled = async (entry) => {
    const body = entry.body || (await bodyOf(entry));
    return store.change(entry.order, (kept) => {
      if (kept.state !== "waiting") {
        return false;
      }
      kept.body = kept.body || body;
      kept.tries = (kept.tries || 0) + 1;
    });
  };

  const isOver = async (entry) => {
    const undone = entry.undoes ? await store.get(entry.undoes) : null;
    if (!undone || undone.state !== "refused") {
      return false;
    }
    await store.change(entry.order, (kept) => void (kept.state = "needless"));
    return true;
  };

  const post = (entry) =>
    ask(entry.what === "lend" ? addresses.lend : addresses.back, {
      method: "POST",
      headers: {
        "Content-Type": "application/json",
        "Idempotency-Key": entry.key,
        "X-CSRFToken": cookie("csrftoken"),
      },
      body: JSON.stringify(entry.body),
    });

  /* True when the next may follow. */
  const send = async (waiting) => {
    if (await isOver(waiting)) {
      return true;
    }
    const entry = await settled(waiting);
    if (entry === null) {
      return true; // undone meanwhile, before it was ever sent
    }
    tell({ state: "sending", snapshot });
    const answer = await post(entry);
    if (answer === null) {
      say("offline");
      return false;
    }
    const { status, body } = answer;
    if (status === 200 || status === 201) {
      await store.change(entry.order, (kept) => {
        Object.assign(kept, { state: "sent", loan: body.id, borrower: body.borrower });
        Object.assign(kept, { variety: body.variety.name, due: body.due_on });
      });
      return true;
    }
    if (status === 401) {
      say("signed-out");
    } else if (body.code === "another_volunteer") {
      say("somebody-else");
    } else if (body.code === "permission_denied") {
      say("reload", body.detail);
    } else if (status === 429 || status >= 500) {
      await store.change(entry.order, (kept) => void (kept.failed = (kept.failed || 0) + 1));
      say("failing");
    } else {
      await store.change(entry.order, (kept) => {
        Object.assign(kept, { state: "refused", why: body.detail, body: null });
      });
      return true;
    }
    return false;
  };

  const waiting = async () =>
    (await store.all()).filter((entry) => entry.by === me && entry.state === "waiting");

  const sendAll = async () => {
    if (!(await lookAround())) {
      return;
    }
    let sent = 0;
    for (let next = await waiting(); next.length; next = await waiting()) {
      if (!(await send(next[0]))) {
        return;
      }
      sent += 1;
      tell({ state: "sending", snapshot });
    }
    if (sent && !(await lookAround())) {
      return;
    }
    say("idle");
  };

  const alone = (work) =>
    navigator.locks ? navigator.locks.request("sowback-table", work) : work();

  /* Begin, or look once more when it is already at it. */
  const flush = () => {
    again = true;
    running ||= (async () => {
      while (again) {
        again = false;
        await alone(sendAll);
      }
    })().finally(() => {
      running = null;
    });
    return running;
  };

  window.addEventListener("online", flush);
  document.addEventListener("visibilitychange", () => !document.hidden && flush());
  window.setInterval(async () => {
    const troubled = state === "offline" || state === "failing";
    if (troubled || (await waiting()).length) {
      flush();
    }
  }, RETRY_AFTER);
  window.setInterval(() => state === "idle" && !document.hidden && flush(), 5 * MINUTE);

  return { flush };
};
