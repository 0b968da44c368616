// Modules and style sheets that are fetched when they are first wanted.

/** How often each file could not be fetched. @type {Map<string, number>} */
const failed = new Map();

/**
 * Fetches a module. Browsers keep the failure of one that could not be
 * fetched, so it is asked for again under another address.
 * @param {string} file
 * @returns {Promise<any>}
 */
export async function fetchModule(file) {
  const before = failed.get(file) ?? 0;
  try {
    return await import(`./${file}${before > 0 ? `?again=${before}` : ''}`);
  } catch (error) {
    failed.set(file, before + 1);
    throw error;
  }
}

/** Links a style sheet once; settles when it is there. @param {string} href */
export function fetchStyle(href) {
  if (document.querySelector(`link[href="${href}"]`)) return undefined;
  const link = document.createElement('link');
  const there = new Promise((resolve, reject) => {
    Object.assign(link, {rel: 'stylesheet', href, onload: resolve, onerror: () => {
      link.remove();
      reject(new Error(href));
    }});
  });
  document.head.append(link);
  return there;
}
