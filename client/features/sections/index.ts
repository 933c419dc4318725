import './sections.css';

export { tag } from './sections-page.ts';
