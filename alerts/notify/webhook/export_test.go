package webhook

// SignForTest is sign.
var SignForTest = sign
