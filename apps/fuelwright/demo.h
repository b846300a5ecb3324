/// The built-in example: an invented V8, the sheet of examples/street_v8.toml.
#pragma once

namespace fuelwright::apps {

/// The text of the sheet.
const char* demo_sheet();

}  // namespace fuelwright::apps
