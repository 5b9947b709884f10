/* The code on a label: read however it was typed or scanned, and refused when it was mistyped.
   The check character is ISO 7064 MOD 11-2 over the digits, the letter standing in front as a
   digit of its own; the server decides by the same rule (library/science/codes.py). */

const STANDS_FOR = { L: "1", P: "2" };
const LEAST = { L: 5, P: 6 };
const LOOKALIKES = { O: "0", I: "1", L: "1" };

const checkCharacter = (digits) => {
  let sum = 0;
  for (const digit of digits) {
    sum = ((sum + Number(digit)) * 2) % 11;
  }
  const check = (12 - sum) % 11;
  return check === 10 ? "X" : String(check);
};

/* A label's picture holds an address; the code is a part of its path. */
const outOfAddress = (text) => {
  const found = /^https?:\/\/\S+?\/([LP][0-9]{5,9}-[0-9X])(?:[/?#]|$)/i.exec(text.trim());
  return found ? found[1] : text;
};

/* ``{code}`` of a packet, else ``{wrong}``: the name of the sentence that says why not. */
export const readCode = (typed) => {
  const bare = outOfAddress(typed)
    .replace(/[\s\-\u2010-\u2015\u2212_]/g, "")
    .toUpperCase();
  if (!bare) {
    return { wrong: "missing" };
  }
  const letter = /[1I]/.test(bare[0]) ? "L" : bare[0];
  if (!(letter in STANDS_FOR)) {
    return { wrong: "stranger" };
  }
  const rest = bare.slice(1).replace(/[OIL]/g, (sign) => LOOKALIKES[sign]);
  const digits = rest.slice(0, -1);
  const check = rest.slice(-1);
  if (!/^[0-9]*$/.test(digits) || !/^[0-9X]?$/.test(check)) {
    return { wrong: "stranger" };
  }
  const tooLong = digits.length > 9 || (digits.length > LEAST[letter] && digits[0] === "0");
  if (digits.length < LEAST[letter] || tooLong || !Number(digits)) {
    return { wrong: "length" };
  }
  if (check !== checkCharacter(STANDS_FOR[letter] + digits)) {
    return { wrong: "check" };
  }
  return letter === "L" ? { wrong: "lot" } : { code: `${letter}${digits}-${check}` };
};
