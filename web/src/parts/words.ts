export const dialogs = {
  close: "Close",
};

export const forms = {
  not_yet: (count: number) => (count === 1 ? "One thing is still to be mended" : `${count} things are still to be mended`),
};
