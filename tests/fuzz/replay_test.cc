// Every seed and every case that a fuzz target once found runs through the target again.
#include <gtest/gtest.h>

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

std::size_t replay(const std::string& kind) {
  const std::filesystem::path folder =
      std::filesystem::path(FUELWRIGHT_SOURCE_DIR) / "tests" / "fuzz" / kind / FUZZ_NAME;
  std::size_t cases = 0;
  if (!std::filesystem::is_directory(folder)) return cases;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    std::ifstream in(entry.path(), std::ios::binary);
    const std::string bytes((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
    SCOPED_TRACE(entry.path().string());
    EXPECT_EQ(
        LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()),
        0);
    ++cases;
  }
  return cases;
}

TEST(Replay, EverySeedIsAnsweredAndNotCrashedOn) { EXPECT_GT(replay("seeds"), 0U); }

TEST(Replay, EveryCaseThatWasFoundIsAnsweredNow) { replay("found"); }

}  // namespace
