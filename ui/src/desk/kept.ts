// What was typed and not saved yet, kept on this device so that no failure, reload or closed lid loses it.

export function keep(key: string, value: unknown): boolean {
  try {
    localStorage.setItem(key, JSON.stringify(value));
    return true;
  } catch {
    // Storage is full or shut: the page still holds the text, and says that it is held nowhere else.
    return false;
  }
}

export function kept<Value>(key: string): Value | undefined {
  const text = localStorage.getItem(key);
  if (text === null) return undefined;
  try {
    return JSON.parse(text) as Value;
  } catch {
    return undefined;
  }
}

export function forget(key: string): void {
  localStorage.removeItem(key);
}
