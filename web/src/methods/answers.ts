// What /api/methods and /api/specifications answer (docs/formats/page.md).

export interface DocumentLine {
  id: string;
  edition: string;
  title: string;
  source: string;
  notice: string;
  kind: "method" | "specification";
  apparatus: string;
  apparatus_words: string;
  summary: string[];
  orders: string[];
}

export interface DocumentsAnswer {
  documents: DocumentLine[];
}

export interface DocumentAnswer {
  document: DocumentLine;
  understood: Record<string, unknown>;
  toml: string;
}
