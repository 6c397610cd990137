import { element } from '../lib/dom.js';
import { words } from '../lib/page.js';

const own = words.quality;
/** Pages of a long list that are put together. */
const PAGES = 200;

/** A link that saves a table of the interface as a CSV file, all of its pages as one. */
export function csvLink(label: string, address: string): HTMLElement {
  const link = element('a', { href: address, download: '' }, label);
  link.addEventListener('click', (event) => {
    event.preventDefault();
    void save(link, label, address);
  });
  return link;
}

async function save(link: HTMLAnchorElement, label: string, address: string): Promise<void> {
  try {
    const text = await wholeCsv(address);
    const at = URL.createObjectURL(new Blob([text], { type: 'text/csv' }));
    const name = address.split('?')[0]?.split('/').slice(2).join('-') ?? 'table';
    element('a', { href: at, download: `${name}.csv` }).click();
    setTimeout(() => URL.revokeObjectURL(at), 60_000);
    link.textContent = label;
  } catch {
    link.textContent = `${label}: ${own.csvFailed}`;
  }
}

/** A page says in its Link header where the next one is (RFC 8288); each begins with the heads. */
async function wholeCsv(first: string): Promise<string> {
  let text = '';
  let address: string | undefined = first;
  for (let i = 0; address !== undefined && i < PAGES; i += 1) {
    const response: Response = await fetch(address, {
      headers: { Accept: 'text/csv' },
      credentials: 'same-origin',
      cache: 'no-store',
    });
    if (!response.ok) throw new Error(`${response.status}`);
    const page = await response.text();
    text += i === 0 ? page : page.slice(page.indexOf('\r\n') + 2);
    address = /<([^<>]+)>; rel="next"/.exec(response.headers.get('Link') ?? '')?.[1];
  }
  return text;
}
