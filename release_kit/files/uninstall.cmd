@echo off
rem Takes back what setup.cmd did: the settings of Excel and the environment. Workbooks stay.
setlocal
set "PYTHON=%~dp0.venv\Scripts\python.exe"
if exist "%PYTHON%" "%PYTHON%" -m estimator excel-setup --undo
if exist "%~dp0.venv" rmdir /s /q "%~dp0.venv"
if exist "%~dp0.venv" goto busy
echo The estimator is taken away. Your workbooks are still here; this folder may be deleted.
pause
exit /b 0
:busy
echo Some files are in use: close Excel and every window of Python, then run this file again.
pause
exit /b 1
