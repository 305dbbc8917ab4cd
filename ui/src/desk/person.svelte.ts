// Who is at this desk: every entry is recorded under a name. Remembered on this device.

const KEY = 'guardrow person';

class Desk {
  person = $state(localStorage.getItem(KEY) ?? '');

  sit(name: string): void {
    this.person = name.trim();
    localStorage.setItem(KEY, this.person);
  }
}

export const desk = new Desk();
