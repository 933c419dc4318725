import './styles/tokens.css';
import './styles/sheet.css';
import { type Feature, Shell } from './shell.ts';

const shell = new Shell();
shell.features = import.meta.glob<Feature>('./features/*/index.ts');
document.body.append(shell);
