#include <opencv2/core/utils/logger.hpp>

extern "C" void latchproof_quiet(void) {
    cv::utils::logging::setLogLevel(cv::utils::logging::LOG_LEVEL_SILENT);
}
