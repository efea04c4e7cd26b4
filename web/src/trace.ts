// Trace: one run, or several on the same axes. #/order/KEY/run/RUN?with=RUN&with=RUN

export { tracePage } from "./trace/page";
