// What the page knows, in one place. Panels set values and are told of changes.

/**
 * Makes a store. on(keys, told) calls told with the whole state whenever one of the keys was
 * set to another value; set(changes) sets values, all before anybody is told.
 */
export function makeStore(initial) {
  const state = { ...initial };
  const listeners = [];
  return {
    get: (key) => state[key],
    on(keys, told) {
      listeners.push({ keys, told });
    },
    set(changes) {
      const changed = Object.keys(changes).filter((key) => !Object.is(state[key], changes[key]));
      Object.assign(state, changes);
      for (const l of listeners.filter((l) => l.keys.some((key) => changed.includes(key)))) l.told(state);
    },
  };
}
