import './figures-page.ts';

export { tag } from './figures-page.ts';
