#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "service/test_job.h"

namespace fuelwright::service {

vc::Cycle example_cycle(const char* name) {
  std::ifstream file(std::string(FUELWRIGHT_SOURCE_DIR) + "/examples/cycles/" + name);
  std::stringstream text;
  text << file.rdbuf();
  const auto cycle = vc::read_cycle(text.str(), name);
  EXPECT_TRUE(cycle.ok()) << (cycle.ok() ? "" : cycle.error().line());
  return *cycle;
}

std::string folder_for_a_test() {
  std::string name =
      (std::filesystem::temp_directory_path() / "fuelwright_service_XXXXXX").string();
  return mkdtemp(name.data()) == nullptr ? std::string() : name;
}

void remove_folder(const std::string& folder) { std::filesystem::remove_all(folder); }

}  // namespace fuelwright::service
